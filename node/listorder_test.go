package node

import (
	"cmp"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"plumbline/sync/entry"
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

// Titles of which nothing has changed are kept, and none is shown that has: after
// any change lists show what they would if nothing were kept.
func TestOnlyTitlesOfWhatChangedAreForgotten(t *testing.T) {
	a := found(t)
	s, err := a.Status(t.Context())
	require.NoError(t, err)
	me := personRecord(s.Author.Person)
	first, second, third := a.add("prospect", "name", "Wes Tarn"), a.add("prospect", "name", "Orrin Vale"), a.add("prospect", "name", "Orrin Vale")
	game := a.add("game", "home", "Tin Valley", "away", "Salt Lick", "date", "2026-09-05")
	later := a.add("game", "home", "Low Ridge", "away", "Salt Lick", "date", "2026-09-06")
	var looks []entry.RecordID
	for _, of := range [][2]entry.RecordID{{first, game}, {second, later}, {third, later}} {
		look := a.add("look", "prospect", of[0].String(), "game", of[1].String())
		a.add("rep", "look", look.String(), "number", "1")
		looks = append(looks, look)
	}
	list := func() []string {
		l, err := a.List(t.Context(), ListQuery{Kind: "rep", Columns: []string{"look"}})
		require.NoError(t, err)
		texts := []string{}
		for _, row := range l.Rows {
			texts = append(texts, row.Title, row.Texts[0])
		}
		return texts
	}
	list()
	for _, change := range []struct {
		of   string
		do   func()
		kept []entry.RecordID
	}{
		{"a prospect", func() { a.set(first, "name", "Wes Tarnow") }, []entry.RecordID{second, third, game, later, looks[1], looks[2]}},
		{"a game", func() { a.set(later, "date", "2026-09-12") }, []entry.RecordID{first, second, third, game, looks[0]}},
		{"a look", func() { a.set(looks[1], "game", game.String()) }, []entry.RecordID{first, second, third, game, later, looks[0], looks[2]}},
		{"a new prospect", func() { a.add("prospect", "name", "Lem Dorn") }, append([]entry.RecordID{first, game}, looks...)},
		{"the scout", func() { a.set(me, "name", "Maren Ost") }, []entry.RecordID{first, second, third, game, later}},
		{"two that are one", func() { a.same(second, third, false) }, nil},
		{"one of two", func() { a.set(third, "name", "Orin Vail") }, []entry.RecordID{first, game, looks[0]}},
		{"two that are one no more", func() { a.same(second, third, true) }, nil},
	} {
		list()
		change.do()
		for _, id := range change.kept {
			_, kept := a.made.get(a.store.Groups().Leader(id))
			require.Truef(t, kept, "after a change of %s: %s", change.of, kindName(id))
		}
		shown := list()
		a.made.forgetAll()
		require.Equal(t, list(), shown, "after a change of %s", change.of)
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
