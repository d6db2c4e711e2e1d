package node

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Two of one name are suggested where no more than one thing speaks against it.
func TestNamesakesAreSuggestedAsDoubles(t *testing.T) {
	for _, c := range []struct{ school, class, position, reason string }{
		{"Salt Lick", "2031", "tackle", "the same name but for spelling"},
		{"", "", "", "the same name but for spelling"},
		{"Low Ridge", "2031", "tackle", "the same name at two schools"},
		{"Low Ridge", "", "tackle", "the same name at two schools"},
		{"Salt Lick", "2032", "tackle", "the same name in two classes"},
		{"Salt Lick", "2031", "edge", "the same name at two positions"},
		{"Low Ridge", "2032", "tackle", ""},
		{"Low Ridge", "2031", "edge", ""},
		{"Salt Lick", "2032", "edge", ""},
	} {
		a := found(t)
		a.add("prospect", "name", "Orrin Vale", "school", "Salt Lick", "class_year", "2031", "position", "tackle")
		second := []string{"name", "Vale, Orrin"}
		for field, value := range map[string]string{"school": c.school, "class_year": c.class, "position": c.position} {
			if value != "" {
				second = append(second, field, value)
			}
		}
		a.add("prospect", second...)
		a.add("prospect", "name", "Tovin Karrel", "school", "Low Ridge", "class_year", "2031", "position", "tackle")
		doubles, err := a.Doubles(t.Context())
		require.NoError(t, err)
		reason := ""
		for _, d := range doubles {
			reason = d.Reason
		}
		require.Equal(t, c.reason, reason, c)
	}
}
