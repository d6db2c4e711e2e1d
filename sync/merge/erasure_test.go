package merge_test

import (
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
	"plumbline/sync/merge/mergetest"
)

func TestRule19NothingOlderComesBack(t *testing.T) {
	for _, erasureFirst := range []bool{false, true} {
		w := newWorld(1)
		director, _ := w.Director(w.Root, 1)
		a, b, p := w.Scout(w.Root, 1), w.Scout(w.Root, 1), shared(1)
		old := a.Write(p, value(1, "old"))
		bad := b.Write(p, value(1, "bad", old))
		erasure := director.Erase(entry.Erasure{Entries: []entry.ErasedEntry{mergetest.Erased(bad)}})
		lap := all(w)
		if erasureFirst {
			lap = read(w, without(w.Facts, old, bad)...)
			lap.Learn(bad)
			lap.Learn(old)
		}
		check(t, "status", lap.Status[bad.ID], merge.Erased)
		check(t, "bytes that stay", lap.Status[erasure.ID], applied)
		lap.shows(t, "live", p)
		lap.Learn(a.Write(p, value(1, "new", bad)))
		lap.shows(t, "written anew", p, "new")
	}
}

// What the erased entry had replaced stays replaced only because the erasure
// repeats it: its bytes may be gone, and nobody could read it there.
func TestRule19TheErasureRepeatsWhatWasReplaced(t *testing.T) {
	w := newWorld(1)
	director, _ := w.Director(w.Root, 1)
	a, p := w.Scout(w.Root, 1), shared(1)
	old := a.Write(p, value(1, "old"))
	bad := a.Write(p, value(1, "bad", old))
	director.Erase(entry.Erasure{Entries: []entry.ErasedEntry{{ID: bad.ID, Record: p}}})
	all(w).shows(t, "without the edges", p, "old")
}

func TestRule19AnErasedRecordStaysSo(t *testing.T) {
	w := newWorld(1)
	director, _ := w.Director(w.Root, 1)
	a, p := w.Scout(w.Root, 1), shared(1)
	facts := []*fact{a.Write(p, value(1, "before"))}
	director.Erase(entry.Erasure{Records: []entry.RecordID{p}})
	facts = append(facts, a.Write(p, value(1, "later")), a.Write(shared(2), value(1, "another")))
	lap := all(w)
	lap.statuses(t, "entries", facts, merge.Erased, merge.Erased, applied)
	lap.shows(t, "live", p)
	check(t, "asked for", lap.Verdict.Erasures.Record(p), true)
	check(t, "asked for another", lap.Verdict.Erasures.Record(shared(2)), false)
}

// Others rest on these: they are never erased, whatever an erasure names.
func TestRule19WhatIsNeverErased(t *testing.T) {
	w := newWorld(1)
	director, _ := w.Director(w.Root, 1)
	a, p, q := w.Scout(w.Root, 1), shared(1), shared(2)
	write := a.Write(p, value(1, "x"))
	said := a.Same(merge.Yes, p, q)
	facts := []*fact{a.At.First, said, a.Retire(p, write), a.Keep(p), director.At, w.Root.At}
	var e entry.Erasure
	for _, f := range facts {
		e.Entries = append(e.Entries, entry.ErasedEntry{ID: f.ID, Record: f.Header.Record})
	}
	e.Entries[1].Edges = []entry.Edge{{Register: reg(merge.SameVerdict), Replaces: []entry.ID{said.ID}}}
	e.Records = []entry.RecordID{entry.SameAsID(p, q)}
	director.Erase(e)
	lap := all(w)
	lap.statuses(t, "named one by one", facts, applied, applied, applied, applied, applied, applied)
	check(t, "joined", lap.joined(p, q), true)
	lap.Learn(director.Erase(entry.Erasure{Records: []entry.RecordID{p}}))
	lap.statuses(t, "with their record", facts, applied, applied, applied, applied, applied, applied)
	check(t, "the write", lap.Status[write.ID], merge.Erased)
	check(t, "retirements kept", len(lap.Record(p).Retirements), 1)
}

func TestRule19OnlyACountedErasureErases(t *testing.T) {
	w := newWorld(1)
	director, _ := w.Director(w.Root, 1)
	a, p := w.Scout(w.Root, 1), shared(1)
	f := a.Write(p, value(1, "x"))
	w.Open(a.Device, a.Cert, true).Erase(entry.Erasure{Records: []entry.RecordID{p}})
	lap := all(w)
	check(t, "by a scout", lap.Status[f.ID], applied)
	before := director.At
	lap.Learn(director.Erase(entry.Erasure{Entries: []entry.ErasedEntry{mergetest.Erased(f)}, Records: []entry.RecordID{p}}))
	check(t, "by a director", lap.Status[f.ID], merge.Erased)
	lap.Learn(w.Root.Cut(director.Device, entry.BeyondNothing, []*fact{before}))
	check(t, "by a director cut before", lap.Status[f.ID], applied)
	lap.shows(t, "comes back", p, "x")
}

// An erasure that gives a wrong record erases nothing: a laptop that gets it
// before the entry couldn't tell what to fold again. Bytes that are no record
// do no harm.
func TestRule19AnErasureGivesTheRecord(t *testing.T) {
	w := newWorld(1)
	director, _ := w.Director(w.Root, 1)
	f := w.Scout(w.Root, 1).Write(shared(1), value(1, "x"))
	director.Erase(entry.Erasure{
		Entries: []entry.ErasedEntry{{ID: f.ID, Record: shared(2)}, {ID: f.ID}, {ID: f.ID, Record: "x"}},
		Records: []entry.RecordID{"", "x"},
	})
	lap := all(w)
	check(t, "status", lap.Status[f.ID], applied)
	check(t, "records touched", len(lap.Verdict.Erasures.Touched()), 1)
}

// Storage folds again what erasures bear on unless the verdicts erase the same.
func TestRule19VerdictsThatEraseTheSame(t *testing.T) {
	w := newWorld(1)
	director, _ := w.Director(w.Root, 1)
	a, p := w.Scout(w.Root, 1), shared(1)
	bad := a.Write(p, value(1, "bad", a.Write(p, value(1, "old"))))
	verdicts := []merge.Erasures{all(w).Verdict.Erasures}
	director.Erase(entry.Erasure{Entries: []entry.ErasedEntry{{ID: bad.ID, Record: p}}})
	verdicts = append(verdicts, all(w).Verdict.Erasures)
	director.Erase(entry.Erasure{Entries: []entry.ErasedEntry{mergetest.Erased(bad)}})
	verdicts = append(verdicts, all(w).Verdict.Erasures)
	director.Erase(entry.Erasure{Records: []entry.RecordID{p}})
	verdicts = append(verdicts, all(w).Verdict.Erasures)
	for i, one := range verdicts {
		for k, other := range verdicts {
			check(t, "equal", one.Equal(other), i == k)
		}
	}
	w.Scout(w.Root, 1)
	check(t, "equal after a grant", all(w).Verdict.Erasures.Equal(verdicts[3]), true)
}
