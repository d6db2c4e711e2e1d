package node

import (
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

// Reps are numbered as they were snapped: nine comes before ten. Numbers are
// compared here with Go's own.
func TestRepsAreListedByLookAndNumber(t *testing.T) {
	a := found(t)
	for _, name := range []string{"Wes Tarn", "Orrin Vale"} {
		look := a.add("look", "prospect", a.add("prospect", "name", name).String())
		for _, number := range []int{10, 2, 1, 11, 9} {
			a.add("rep", "look", look.String(), "number", strconv.Itoa(number))
		}
	}
	for _, q := range []ListQuery{{Kind: "rep"}, {Kind: "rep", Limit: 10}, {Kind: "rep", Where: "number > 0"}} {
		q.Columns = []string{"look", "number"}
		l, err := a.List(t.Context(), q)
		require.NoError(t, err)
		require.Len(t, l.Rows, 10)
		for i := 1; i < len(l.Rows); i++ {
			before, after := l.Rows[i-1], l.Rows[i]
			if before.Texts[0] == after.Texts[0] {
				require.Less(t, before.Cells[1], after.Cells[1])
			} else {
				require.Less(t, before.Texts[0], after.Texts[0])
			}
		}
	}
}
