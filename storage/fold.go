package storage

import (
	"fmt"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// folding is a record within a transaction: read once, folded as entries
// come, stored once at the end.
type folding struct {
	n     recordKey
	id    entry.RecordID
	fresh bool  // has no row yet
	key   int64 // of a fresh one: what it will be found by
	// folded is set when the record has a state: something applied was written
	// to it. What counted erasures left is part of every state.
	folded bool
	dirty  bool
	rec    *merge.Record
	// sole is the one entry that makes up the state, if one does; marked is the
	// one whose row says so.
	sole, marked entryKey
	lamport      uint64
	shown        merge.Visibility
	// was is what is stored, from the first change on.
	was was
	// refs are the record's references, once stored or read.
	refs  []entry.RecordID
	known bool
	// words tells what the search index holds of it; nil if it isn't in there.
	words func(entry.RecordID, []entry.Change) string
}

type was struct {
	digest merge.StateHash
	refs   []entry.RecordID
	words  string
	kept   int // retirements
}

// blank is a record to which nothing was applied: what erased entries had
// replaced stays replaced.
func (m *memory) blank(id entry.RecordID) *merge.Record {
	r := &merge.Record{ID: id}
	r.ApplyEdges(m.verdict.Erasures.Edges(id))
	return r
}

// number gives out the next record number of a kind.
func (d *draft) number(kind entry.Kind) recordKey {
	n := max(d.next[kind], firstOf(kind)+1)
	d.next[kind] = n + 1
	return n
}

// change notes what is stored before the first change.
func (f *folding) change() {
	if f.dirty {
		return
	}
	f.dirty = true
	if f.folded {
		f.was = f.is()
	} else {
		f.was = was{}
	}
}

// is gathers what is stored of the current state besides itself.
func (f *folding) is() was {
	is := was{digest: f.rec.Digest(), refs: f.references(), kept: len(f.rec.Retirements)}
	if f.words != nil {
		is.words = f.words(f.id, liveValues(f.rec))
	}
	return is
}

func (f *folding) apply(n entryKey, w merge.Write) {
	f.change()
	f.sole = 0
	if !f.folded && isSole(f.rec, w.Body.Kind) {
		f.sole = n
	}
	f.folded = true
	f.lamport = max(f.lamport, w.Lamport)
	f.rec.Apply(w)
}

// replace puts another state in the place of the current one.
func (f *folding) replace(to refolded) {
	f.change()
	f.rec, f.folded, f.sole, f.lamport = to.rec, to.applied > 0, to.sole, to.lamport
}

// references returns the records to which a record that isn't changing refers.
func (f *folding) references() []entry.RecordID {
	if !f.known {
		f.refs, f.known = f.rec.References(), true
	}
	return f.refs
}

// refolded is a record folded from nothing.
type refolded struct {
	rec     *merge.Record
	applied int
	sole    entryKey
	lamport uint64
}

func (r *refolded) apply(n entryKey, w merge.Write) {
	r.sole = 0
	if r.applied == 0 && isSole(r.rec, w.Body.Kind) {
		r.sole = n
	}
	r.rec.Apply(w)
	r.applied++
	r.lamport = max(r.lamport, w.Lamport)
}

// refold folds a record from its entries whose stored status is applied.
func (m *memory) refold(q querier, id entry.RecordID, n recordKey) (refolded, error) {
	return m.refoldFrom(q, id, "n IN ("+entriesOf+")", n)
}

// refoldFrom folds a record from the applied ones among certain entries.
func (m *memory) refoldFrom(q querier, id entry.RecordID, which string, n recordKey) (refolded, error) {
	r := refolded{rec: m.blank(id)}
	err := q(func(scan func(...any) error) error {
		var e entryRow
		if err := scan(e.columns()...); err != nil {
			return err
		}
		at := e.n.place()
		if int(at.Branch) >= len(m.branches) {
			return fmt.Errorf("entry %v: %w", at, ErrCorrupt)
		}
		w, err := e.write(m.branches[at.Branch].log.id)
		if err == nil {
			r.apply(e.n, w)
		}
		return err
	}, "SELECT n, hash, header, body FROM entry WHERE "+which+" AND status = 1 ORDER BY n", n)
	return r, err
}

// refoldAll folds anew the records of which entries were judged differently.
func (d *draft) refoldAll() error {
	i := 0
	for id := range d.refolds {
		f, err := d.folding(id)
		if err != nil {
			return err
		}
		to, err := d.refold(d.read(), id, f.n)
		if err != nil {
			return err
		}
		f.replace(to)
		if i++; i%patience == 0 {
			if err := d.pause(); err != nil {
				return err
			}
		}
	}
	return d.flush()
}
