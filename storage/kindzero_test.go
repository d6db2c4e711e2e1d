package storage

import (
	"path/filepath"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge/mergetest"
)

// A peer can write a record of kind 0, by which this package means any kind. It shuts
// out nobody from the search index, nor from a backup, which brings that up to date.
func TestARecordOfKindZeroLeavesTheSearchIndexAlone(t *testing.T) {
	w := newWorld(33)
	control, _ := w.Director(w.Root, 1)
	line := w.Scout(control, 2)
	first := line.Write(prospect(1), value(1, "elm"))
	line.Write(entry.NewRecordID(entry.Shared, 0, entry.PersonID{}, [16]byte{1}), value(1, "ash"))
	s := storeOf(t, w)
	s.append(t, all(w)...)
	for _, kind := range []entry.Kind{mergetest.KindProspect, 0} {
		_, err := s.Search(t.Context(), "elm", kind, 0)
		check(t, err)
	}
	before := len(w.Facts)
	line.Write(prospect(1), value(1, "oak", first))
	s.append(t, since(w, before)...)
	check(t, s.Close())
	s = openAt(t, s.path, Options{Projector: projector{}}) // what waits is read anew
	check(t, s.Backup(t.Context(), filepath.Join(t.TempDir(), "backup.db"), nil))
	found, err := s.Search(t.Context(), "oak", 0, 0)
	check(t, err)
	if len(found) != 1 || found[0] != prospect(1) {
		t.Errorf("found %v", found)
	}
	report, err := s.Verify(t.Context(), nil)
	check(t, err)
	if len(report.Faults) > 0 {
		t.Errorf("verified: %v", report.Faults)
	}
}
