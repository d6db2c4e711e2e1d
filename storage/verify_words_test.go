package storage

import (
	"context"
	"fmt"
	"slices"
	"testing"

	"plumbline/sync/entry"
)

// TestVerifyReadsTheWordsOfTheSearchIndex turns bits in the pages of the search
// index. Verify finds each, or nobody who searches would.
func TestVerifyReadsTheWordsOfTheSearchIndex(t *testing.T) {
	ctx := context.Background()
	w := soundWorld()
	s := storeOf(t, w)
	s.append(t, all(w)...)
	check(t, s.indexKind(ctx, 0))
	answers := func() (all [][]entry.RecordID, err error) {
		for _, text := range []string{"a", "as", "ash", "e", "el", "elm", "eln"} {
			found, err := s.Search(ctx, text, 0, 0)
			if err != nil {
				return nil, err
			}
			all = append(all, found)
		}
		return all, nil
	}
	want, err := answers()
	check(t, err)
	pages := map[int64][]byte{}
	check(t, s.readers.bind(ctx)(func(scan func(...any) error) error {
		var id int64
		var page []byte
		err := scan(&id, &page)
		pages[id] = slices.Clone(page)
		return err
	}, "SELECT id, block FROM words_data WHERE id > 10")) // below it are counts
	found := 0
	for id, page := range pages {
		for bit := 0; bit < 8*len(page); bit += 5 {
			page[bit/8] ^= 1 << (bit % 8)
			s.damage(t, fmt.Sprintf("UPDATE words_data SET block = x'%x' WHERE id = %d", page, id))
			page[bit/8] ^= 1 << (bit % 8)
			report, err := s.Verify(ctx, nil)
			check(t, err)
			if len(report.Faults) > 0 {
				found++
				continue
			}
			if got, err := answers(); err != nil || !slices.EqualFunc(got, want, slices.Equal[[]entry.RecordID]) {
				t.Errorf("bit %d of page %d: nothing is found, and searching gives %v, %v, not %v", bit, id, got, err, want)
			}
		}
	}
	t.Logf("%d turned bits were found", found)
	if found == 0 {
		t.Error("none was found, so this test shows nothing")
	}
	check(t, s.Rebuild(ctx))
	check(t, s.indexKind(ctx, 0))
	if report, err := s.Verify(ctx, nil); err != nil || len(report.Faults) > 0 {
		t.Errorf("rebuilt: %q, %v", report.Faults, err)
	}
}

// TestVerifyComparesWordsWhileSomeWait takes records whose words have changed, and
// are still in the index as they were, out of the comparison.
func TestVerifyComparesWordsWhileSomeWait(t *testing.T) {
	ctx := context.Background()
	w := newWorld(3)
	scout := w.Scout(w.Root, 1)
	first := scout.Write(prospect(1), value(1, "elm"))
	scout.Write(prospect(2), value(1, "oak"))
	before := len(w.Facts)
	s := storeOf(t, w)
	s.append(t, all(w)...)
	check(t, s.indexKind(ctx, 0))
	scout.Write(prospect(1), value(1, "fir", first))
	scout.Write(prospect(3), value(1, "yew"))
	s.append(t, runs(w, w.Facts[before:], always)...)
	if report, err := s.Verify(ctx, nil); err != nil || len(report.Faults) > 0 {
		t.Errorf("while words wait: %q, %v", report.Faults, err)
	}
	s.damage(t, "DELETE FROM reword")
	if report, err := s.Verify(ctx, nil); err != nil || len(report.Faults) == 0 {
		t.Errorf("other words than the record's aren't found, %v", err)
	}
}
