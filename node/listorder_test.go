package node

import (
	"cmp"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
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

// What a look is called follows its prospect and its game, also in lists that
// were asked for before.
func TestListsFollowNames(t *testing.T) {
	a := found(t)
	prospect := a.add("prospect", "name", "Wes Tarn")
	game := a.add("game", "home", "Tin Valley", "away", "Salt Lick", "date", "2026-09-05")
	look := a.add("look", "prospect", prospect.String(), "game", game.String())
	a.add("rep", "look", look.String(), "number", "1")
	for _, step := range []struct {
		do   func()
		want string
	}{
		{func() {}, "Wes Tarn, Salt Lick at Tin Valley, 2026-09-05, seen by Maren Ostrava"},
		{func() { a.set(prospect, "name", "Wes Tarnow") }, "Wes Tarnow, Salt Lick at Tin Valley, 2026-09-05, seen by Maren Ostrava"},
		{func() { a.set(game, "date", "2026-09-12") }, "Wes Tarnow, Salt Lick at Tin Valley, 2026-09-12, seen by Maren Ostrava"},
	} {
		step.do()
		l, err := a.List(t.Context(), ListQuery{Kind: "rep", Where: "number == 1", Columns: []string{"look"}})
		require.NoError(t, err)
		require.Equal(t, step.want, l.Rows[0].Texts[0])
	}
}

// What is sorted by more than a number can hold is sorted all the same: compared
// with sorting by one after the other, as Go does.
func TestKeysOfMuch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := rapid.SliceOfN(rapid.SliceOfN(rapid.Uint64Range(0, 3), 4, 4), 1, 40).Draw(t, "rows")
		const count = 1 << 30
		keys, span := make([]uint64, len(rows)), uint64(1)
		for column := range 4 {
			keys, span = refined(keys, span, func(i int) uint64 { return rows[i][column] << 28 }, count)
		}
		got := make([]int, len(rows))
		for i := range got {
			got[i] = i
		}
		want := slices.Clone(got)
		slices.SortStableFunc(got, func(a, b int) int { return cmp.Compare(keys[a], keys[b]) })
		slices.SortStableFunc(want, func(a, b int) int { return slices.Compare(rows[a], rows[b]) })
		if !slices.Equal(got, want) {
			t.Fatalf("%v: got %v, want %v", rows, got, want)
		}
		n := rapid.IntRange(1, len(keys)).Draw(t, "n")
		if bound := smallest(keys, n); bound != slices.Sorted(slices.Values(keys))[n-1] {
			t.Fatalf("the %d. of %v is said to be %d", n, keys, bound)
		}
	})
}
