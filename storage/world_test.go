package storage

import (
	"context"
	"path/filepath"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge/mergetest"
)

// The words that make up most of the tests, short.
var (
	newWorld = mergetest.NewWorld
	prospect = mergetest.Prospect
	board    = mergetest.Board
	reg      = mergetest.Reg
	value    = mergetest.Value
	refer    = mergetest.Refer
)

// runs packs facts, which come in an order of arrival, into runs: what follows
// one another in a log shares one. Only the last entry of a run, and any at
// which keep says so, brings its signature.
func runs(w *mergetest.World, facts []*mergetest.Fact, keep func() bool) (runs []entry.Run) {
	for i, f := range facts {
		if i == 0 || f.Prev != facts[i-1] {
			run := entry.Run{Log: f.ID.Log, After: entry.Point{Hash: entry.Origin(w.Staff)}}
			if f.Prev != nil {
				run.After, run.Lamport = f.Prev.Point, f.Prev.Header.Lamport
			}
			runs = append(runs, run)
		}
		run := &runs[len(runs)-1]
		run.Entries = append(run.Entries, f.Entry)
		if last := i == len(facts)-1 || facts[i+1].Prev != f; last || keep() {
			run.Points = append(run.Points, entry.SignPoint(f.By.Key, w.Staff, f.ID.Log, f.Point))
		}
	}
	return runs
}

func always() bool { return true }

// all packs everything that was written.
func all(w *mergetest.World) []entry.Run { return runs(w, w.Facts, always) }

// since packs what was written after the first n facts.
func since(w *mergetest.World, n int) []entry.Run { return runs(w, w.Facts[n:], always) }

// projector indexes every value of field 1 and sums up prospects.
type projector struct{ version int }

func (p projector) Version() int { return p.version }

func (p projector) Words(_ entry.RecordID, live []entry.Change) string {
	for _, v := range live {
		if v.Register == reg(1) {
			if v.Op == entry.OpValue {
				return string(v.Value)
			}
			return ""
		}
	}
	return ""
}

func (p projector) Summarized(kind entry.Kind) bool { return kind == mergetest.KindProspect }

// openAt opens a store; it is closed with the test, or before.
func openAt(t testing.TB, path string, o Options) *Store {
	t.Helper()
	s, err := Open(context.Background(), path, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func storeOf(t testing.TB, w *mergetest.World) *Store {
	t.Helper()
	return openAt(t, filepath.Join(t.TempDir(), "plumbline.db"), Options{Staff: w.Staff, Projector: projector{}})
}

// append stores runs and fails the test if they aren't.
func (s *Store) append(t tester, runs ...entry.Run) Outcome {
	t.Helper()
	o, err := s.Append(context.Background(), runs...)
	if err != nil {
		t.Fatal(err)
	}
	return o
}
