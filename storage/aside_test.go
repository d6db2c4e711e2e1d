package storage

import (
	"context"
	"slices"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge/mergetest"
)

// What is set aside is listed in one order, whichever log came first, and the
// first of a list are the same ones.
func TestSetAsideHasOneOrderOnEveryLaptop(t *testing.T) {
	w := newWorld(11)
	var logs [][]*mergetest.Fact
	for range 6 {
		before := len(w.Facts)
		stranger := w.NewDevice()
		l := w.Open(stranger, w.Certificate(stranger, entry.RoleScout, 0, 3), false)
		for i := range 4 {
			l.Write(prospect(byte(i)), value(1, "elm"))
		}
		logs = append(logs, w.Facts[before:])
	}
	staff := w.Facts[:len(w.Facts)-len(slices.Concat(logs...))]
	read := func(order [][]*mergetest.Fact, limit int) (ids []entry.ID) {
		s := storeOf(t, w)
		each(t, s, w, staff)
		each(t, s, w, slices.Concat(order...))
		entries, err := s.SetAside(context.Background(), limit)
		check(t, err)
		for _, e := range entries {
			ids = append(ids, e.ID)
		}
		return ids
	}
	// As the entries were made, which no laptop's storage decides.
	var want []entry.ID
	for _, f := range slices.Concat(logs...) {
		want = append(want, f.ID)
	}
	slices.SortFunc(want, entry.ID.Compare)
	forth := slices.Clone(logs)
	slices.Reverse(logs)
	for _, order := range [][][]*mergetest.Fact{forth, logs} {
		if got := read(order, 0); !slices.Equal(got, want) {
			t.Errorf("listed are\n%v, want\n%v", got, want)
		}
		if got := read(order, 7); !slices.Equal(got, want[:7]) {
			t.Errorf("the first 7 are\n%v, want\n%v", got, want[:7])
		}
	}
}
