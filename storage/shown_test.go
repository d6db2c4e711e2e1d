package storage

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// showsItsRecords holds what is read of what records show against the records read
// whole, each by itself and from above.
func showsItsRecords(t tester, s *Store) {
	t.Helper()
	ctx := context.Background()
	var whole, shown []string
	for row, err := range s.Records(ctx, Query{Hidden: true}) {
		check(t, err)
		whole = append(whole, wordedRow(row))
		var above, below []string
		rows, err := s.Under(ctx, row.ID)
		check(t, err)
		for _, row := range rows {
			if hasValue(row.Record) {
				above = append(above, wordedRow(row))
			}
		}
		check(t, s.ShownUnder(ctx, row.ID, func(is Shown) { below = append(below, worded(is)) }))
		same(t, "shown under "+row.ID.String(), strings.Join(below, "\n"), strings.Join(above, "\n"))
	}
	check(t, s.readers.bind(ctx).shown(func(_ Number, is Shown) error {
		shown = append(shown, worded(is))
		return nil
	}, "WHERE r.state IS NOT NULL"))
	slices.Sort(whole)
	slices.Sort(shown)
	same(t, "shown", strings.Join(shown, "\n"), strings.Join(whole, "\n"))
}

func hasValue(r *merge.Record) bool {
	return slices.ContainsFunc(r.Registers, func(reg *merge.Register) bool { return len(reg.Live) > 0 })
}

// wordedRow says of a whole record what worded says of what it shows.
func wordedRow(row Row) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s visibility %d conflicts %d refers to %v", row.ID, row.Info.Visibility, row.Info.Conflicts, row.References())
	for _, reg := range row.Registers {
		for _, v := range reg.Live {
			fmt.Fprintf(&b, " live %v %d %x", reg.Register, v.Op, v.Data)
		}
		if v, ok := reg.Shown(); ok {
			fmt.Fprintf(&b, " shown %x", v.Data)
		}
	}
	return b.String()
}

func worded(is Shown) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s visibility %d conflicts %d refers to %v", is.ID, is.Visibility, is.Conflicts, is.References())
	for i, v := range is.Live {
		fmt.Fprintf(&b, " live %v %d %x", v.Register, v.Op, v.Value)
		if i+1 < len(is.Live) && is.Live[i+1].Register == v.Register {
			continue
		}
		if v, ok := is.Value(v.Register); ok {
			fmt.Fprintf(&b, " shown %x", v.Value)
		}
	}
	return b.String()
}

// TestOneEntryShowsWhatReadingItWholeShows has one entry make up a record in each
// way that could be told apart: registers out of order, one written twice, one
// cleared, keys, a reference, and values named as replaced that nobody holds.
func TestOneEntryShowsWhatReadingItWholeShows(t *testing.T) {
	w := newWorld(31)
	a := w.Scout(w.Root, 2)
	to := a.Write(prospect(1), value(1, "elm"))
	keyed := func(key, text string) entry.Change {
		return entry.Change{Register: entry.Register{Field: 3, Keyed: true, Key: key}, Op: entry.OpValue, Value: []byte(text)}
	}
	a.Write(prospect(2),
		value(7, "late"), keyed("b", "second"), keyed("a", "first"), value(1, "before"), value(1, "oak"),
		entry.Change{Register: reg(2), Op: entry.OpClear},
		entry.Change{Register: reg(5), Op: entry.OpReference, Value: []byte(prospect(1))},
		entry.Change{Register: reg(6), Op: entry.OpValue, Value: []byte("over"), Replaces: []entry.ID{to.ID, {}}},
	)
	s := storeOf(t, w)
	s.append(t, all(w)...)
	showsItsRecords(t, s)
	var lines []string
	check(t, s.readers.bind(t.Context()).shown(func(_ Number, is Shown) error {
		for v := range is.Values() {
			lines = append(lines, fmt.Sprintf("%d%s=%s", v.Field, v.Key, v.Value))
		}
		return nil
	}, "WHERE r.id = ?", []byte(prospect(2))))
	want := []string{"1=oak", "3a=first", "3b=second", "5=" + string(prospect(1)), "6=over", "7=late"}
	if !slices.Equal(lines, want) {
		t.Errorf("shows %q, want %q", lines, want)
	}
}
