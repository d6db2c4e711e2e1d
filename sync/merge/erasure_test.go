package merge_test

import (
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// erased names a fact as its eraser does, with what it had replaced.
func erased(f *fact) entry.ErasedEntry {
	x := entry.ErasedEntry{ID: f.id, Record: f.header.Record}
	for _, c := range f.body.Changes {
		x.Edges = append(x.Edges, entry.Edge{Register: c.Register, Replaces: c.Replaces})
	}
	return x
}

func TestRule19NothingOlderComesBack(t *testing.T) {
	for _, erasureFirst := range []bool{false, true} {
		w := newWorld(1)
		director, _ := w.director(w.root, 1)
		a, b, p := w.scout(w.root, 1), w.scout(w.root, 1), shared(1)
		old := a.write(p, value(1, "old"))
		bad := b.write(p, value(1, "bad", old))
		erasure := director.erase(entry.Erasure{Entries: []entry.ErasedEntry{erased(bad)}})
		lap := w.all()
		if erasureFirst {
			lap = w.read(without(w.facts, old, bad)...)
			lap.learn(bad)
			lap.learn(old)
		}
		check(t, "status", lap.status[bad.id], merge.Erased)
		check(t, "bytes that stay", lap.status[erasure.id], applied)
		lap.shows(t, "live", p)
		lap.learn(a.write(p, value(1, "new", bad)))
		lap.shows(t, "written anew", p, "new")
	}
}

// What the erased entry had replaced stays replaced only because the erasure
// repeats it: its bytes may be gone, and nobody could read it there.
func TestRule19TheErasureRepeatsWhatWasReplaced(t *testing.T) {
	w := newWorld(1)
	director, _ := w.director(w.root, 1)
	a, p := w.scout(w.root, 1), shared(1)
	old := a.write(p, value(1, "old"))
	bad := a.write(p, value(1, "bad", old))
	director.erase(entry.Erasure{Entries: []entry.ErasedEntry{{ID: bad.id, Record: p}}})
	w.all().shows(t, "without the edges", p, "old")
}

func TestRule19AnErasedRecordStaysSo(t *testing.T) {
	w := newWorld(1)
	director, _ := w.director(w.root, 1)
	a, p := w.scout(w.root, 1), shared(1)
	facts := []*fact{a.write(p, value(1, "before"))}
	director.erase(entry.Erasure{Records: []entry.RecordID{p}})
	facts = append(facts, a.write(p, value(1, "later")), a.write(shared(2), value(1, "another")))
	lap := w.all()
	lap.statuses(t, "entries", facts, merge.Erased, merge.Erased, applied)
	lap.shows(t, "live", p)
	check(t, "asked for", lap.verdict.Erasures.Record(p), true)
	check(t, "asked for another", lap.verdict.Erasures.Record(shared(2)), false)
}

// Others rest on these: they are never erased, whatever an erasure names.
func TestRule19WhatIsNeverErased(t *testing.T) {
	w := newWorld(1)
	director, _ := w.director(w.root, 1)
	a, p, q := w.scout(w.root, 1), shared(1), shared(2)
	write := a.write(p, value(1, "x"))
	said := a.says(merge.Yes, p, q)
	facts := []*fact{a.at.first, said, a.retire(p, write), a.keep(p), director.at, w.root.at}
	var e entry.Erasure
	for _, f := range facts {
		e.Entries = append(e.Entries, entry.ErasedEntry{ID: f.id, Record: f.header.Record})
	}
	e.Entries[1].Edges = []entry.Edge{{Register: reg(merge.SameVerdict), Replaces: []entry.ID{said.id}}}
	e.Records = []entry.RecordID{entry.SameAsID(p, q)}
	director.erase(e)
	lap := w.all()
	lap.statuses(t, "named one by one", facts, applied, applied, applied, applied, applied, applied)
	check(t, "joined", lap.joined(p, q), true)
	lap.learn(director.erase(entry.Erasure{Records: []entry.RecordID{p}}))
	lap.statuses(t, "with their record", facts, applied, applied, applied, applied, applied, applied)
	check(t, "the write", lap.status[write.id], merge.Erased)
	check(t, "retirements kept", len(lap.record(p).Retirements), 1)
}

func TestRule19OnlyACountedErasureErases(t *testing.T) {
	w := newWorld(1)
	director, _ := w.director(w.root, 1)
	a, p := w.scout(w.root, 1), shared(1)
	f := a.write(p, value(1, "x"))
	w.open(a.device, a.cert, true).erase(entry.Erasure{Records: []entry.RecordID{p}})
	lap := w.all()
	check(t, "by a scout", lap.status[f.id], applied)
	before := director.at
	lap.learn(director.erase(entry.Erasure{Entries: []entry.ErasedEntry{erased(f)}, Records: []entry.RecordID{p}}))
	check(t, "by a director", lap.status[f.id], merge.Erased)
	lap.learn(w.root.cut(director.device, entry.BeyondNothing, []*fact{before}))
	check(t, "by a director cut before", lap.status[f.id], applied)
	lap.shows(t, "comes back", p, "x")
}

// An erasure that gives a wrong record erases nothing: a laptop that gets it
// before the entry couldn't tell what to fold again. Bytes that are no record
// do no harm.
func TestRule19AnErasureGivesTheRecord(t *testing.T) {
	w := newWorld(1)
	director, _ := w.director(w.root, 1)
	f := w.scout(w.root, 1).write(shared(1), value(1, "x"))
	director.erase(entry.Erasure{
		Entries: []entry.ErasedEntry{{ID: f.id, Record: shared(2)}, {ID: f.id}, {ID: f.id, Record: "x"}},
		Records: []entry.RecordID{"", "x"},
	})
	lap := w.all()
	check(t, "status", lap.status[f.id], applied)
	check(t, "records touched", len(lap.verdict.Erasures.Touched()), 1)
}

// Storage folds again what erasures bear on unless the verdicts erase the same.
func TestRule19VerdictsThatEraseTheSame(t *testing.T) {
	w := newWorld(1)
	director, _ := w.director(w.root, 1)
	a, p := w.scout(w.root, 1), shared(1)
	bad := a.write(p, value(1, "bad", a.write(p, value(1, "old"))))
	verdicts := []merge.Erasures{w.all().verdict.Erasures}
	director.erase(entry.Erasure{Entries: []entry.ErasedEntry{{ID: bad.id, Record: p}}})
	verdicts = append(verdicts, w.all().verdict.Erasures)
	director.erase(entry.Erasure{Entries: []entry.ErasedEntry{erased(bad)}})
	verdicts = append(verdicts, w.all().verdict.Erasures)
	director.erase(entry.Erasure{Records: []entry.RecordID{p}})
	verdicts = append(verdicts, w.all().verdict.Erasures)
	for i, one := range verdicts {
		for k, other := range verdicts {
			check(t, "equal", one.Equal(other), i == k)
		}
	}
	w.scout(w.root, 1)
	check(t, "equal after a grant", w.all().verdict.Erasures.Equal(verdicts[3]), true)
}
