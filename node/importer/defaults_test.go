package importer

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"plumbline/node/record"
)

// Invented data.
func TestDefaultsFillWhatARowLeavesEmpty(t *testing.T) {
	table := "name,school,class_year,height,source\nOrrin Vale,Harbor Point,2027,6046,\nPim Rask,,2027,6031,verified\n"
	got, err := Import(strings.NewReader(table), Options{
		File: "list.csv", Kind: record.Prospect,
		Defaults: map[string]string{"source": "listed", "school": "Salt Lick", "position": "tackle"},
	})
	require.NoError(t, err)
	require.Empty(t, got.Problems)
	var seen []string
	for _, p := range got.Proposals {
		for _, f := range p.Fields {
			if f.IsRef() {
				continue
			}
			text, err := f.Register.Text(f.Value)
			require.NoError(t, err)
			seen = append(seen, f.Register.Path()+"="+text)
		}
	}
	require.Contains(t, seen, "school=Harbor Point")
	require.Contains(t, seen, "school=Salt Lick")
	require.Contains(t, seen, "position=tackle")
	require.Contains(t, seen, "reading=6046, listed")
	require.Contains(t, seen, "reading=6031, verified")
}
