package storage

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge/mergetest"
)

// TestASearchOnAFullDisk looks for words that the disk doesn't take: of new
// records, of changed and of retired ones, beside those that are in the index. It
// finds what a store with room finds, and so it does once there is room.
func TestASearchOnAFullDisk(t *testing.T) {
	ctx := context.Background()
	w := newWorld(29)
	a := w.Scout(w.Root, 2)
	record := func(i int) entry.RecordID {
		return entry.NewRecordID(entry.Shared, mergetest.KindProspect, entry.PersonID{}, [16]byte{byte(i), byte(i >> 8)})
	}
	const old, all = 40, wordsAtOnce + 100 // more than are searched at once
	names := make([]*mergetest.Fact, old)
	for i := range old {
		names[i] = a.Write(record(i), value(1, fmt.Sprint("elm oak ", i)))
	}
	a.Write(a.Look(1), value(1, "elm on first down"))
	s, roomy := storeOf(t, w), storeOf(t, w)
	for _, one := range []*Store{s, roomy} {
		one.append(t, runs(w, w.Facts, always)...)
		check(t, one.indexKind(ctx, 0))
	}
	before := len(w.Facts)
	a.Write(record(1), value(1, "ash", names[1]))
	a.Write(record(2), value(1, "elm", names[2]))
	a.Retire(record(3), names[3])
	a.Retire(record(4), names[4], a.Write(record(4), value(1, "ash", names[4])))
	a.Write(a.Look(2), value(1, "ash on first down"))
	for i := old; i < all; i++ {
		names = append(names, a.Write(record(i), value(1, fmt.Sprint([]string{"elm ", "ash ", "fir "}[i%3], i))))
	}
	a.Retire(record(old+1), names[old+1])
	for _, one := range []*Store{s, roomy} {
		one.append(t, since(w, before)...)
	}
	alike := func() {
		t.Helper()
		for _, text := range []string{"elm", "el", "ash", "oak", "oak 7", "oak 1", "fir 4100", "first", "nobody"} {
			for _, kind := range []entry.Kind{0, mergetest.KindProspect, mergetest.KindLook} {
				for name, search := range map[string]func(*Store) ([]entry.RecordID, error){
					"visible": func(s *Store) ([]entry.RecordID, error) { return s.Search(ctx, text, kind, 0) },
					"all":     func(s *Store) ([]entry.RecordID, error) { return s.SearchAll(ctx, text, kind, 0) },
				} {
					got, err := search(s)
					check(t, err)
					want, err := search(roomy)
					check(t, err)
					slices.Sort(got)
					slices.Sort(want)
					if !slices.Equal(got, want) {
						t.Errorf("%q among %s of kind %d: %d found, want %d", text, name, kind, len(got), len(want))
					}
				}
			}
		}
	}
	s.fill(t, 0)
	if err := s.indexKind(ctx, 0); !errors.Is(err, ErrFull) {
		t.Fatalf("the words find room, so this test shows nothing: %v", err)
	}
	alike()
	if got, err := s.Search(ctx, "elm", mergetest.KindProspect, 5); err != nil || len(got) != 10 {
		t.Errorf("limited: %d, %v, want five of each", len(got), err)
	}
	backup := filepath.Join(t.TempDir(), "copy")
	check(t, s.Backup(ctx, backup, nil))
	copied := openAt(t, backup, Options{Projector: projector{}, ReadOnly: true})
	got, err := copied.Search(ctx, "ash", 0, 0)
	check(t, err)
	want, err := roomy.Search(ctx, "ash", 0, 0)
	check(t, err)
	if len(got) != len(want) {
		t.Errorf("the backup finds %d, want %d", len(got), len(want))
	}
	s.fill(t, 1<<20)
	alike()
	if left := s.held.Load().unworded(0); len(left) > 0 {
		t.Errorf("kinds %v still wait", left)
	}
}
