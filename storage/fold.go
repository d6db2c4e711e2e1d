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
	fresh bool // has no row yet
	// folded is set when the record has a state: something applied was written
	// to it. What counted erasures left is part of every state.
	folded  bool
	dirty   bool
	rec     *merge.Record
	lamport uint64
	shown   merge.Visibility
	// was is what is stored, from the first change on.
	was was
	// refs are the record's references, once stored or read.
	refs  []entry.RecordID
	known bool
	// words tells what the search index holds of it.
	words func(*merge.Record) string
}

type was struct {
	digest merge.StateHash
	refs   []entry.RecordID
	words  string
	kept   int // retirements
}

// folding returns a record, read if it is held, else new with the next number.
func (d *draft) folding(id entry.RecordID) (*folding, error) {
	if f := d.records[id]; f != nil {
		return f, nil
	}
	f := &folding{id: id, words: d.wordsOf}
	var state []byte
	held, err := d.read().one("SELECT n, state, lamport, visibility FROM record WHERE id = ?",
		[]any{[]byte(id)}, &f.n, &state, &f.lamport, &f.shown)
	if err != nil {
		return nil, err
	}
	if !held {
		if f.n, err = d.number(id.Kind()); err != nil {
			return nil, err
		}
		f.fresh = true
	}
	if state == nil {
		f.rec = d.blank(id)
	} else if f.rec, err = merge.Decode(id, state); err != nil {
		return nil, fmt.Errorf("%w (%w)", ErrCorrupt, err)
	}
	f.folded = state != nil
	d.records[id] = f
	d.order = append(d.order, f)
	return f, nil
}

// blank is a record to which nothing was applied: what erased entries had
// replaced stays replaced.
func (m *memory) blank(id entry.RecordID) *merge.Record {
	r := &merge.Record{ID: id}
	r.ApplyEdges(m.verdict.Erasures.Edges(id))
	return r
}

func (d *draft) wordsOf(r *merge.Record) string {
	if d.projector == nil {
		return ""
	}
	return d.projector.Words(r)
}

// number gives out the next record number of a kind.
func (d *draft) number(kind entry.Kind) (recordKey, error) {
	n, ok := d.next[kind]
	if !ok {
		from, to := firstOf(kind), firstOf(kind)+below
		_, err := d.read().one("SELECT coalesce(max(n), ?) + 1 FROM record WHERE n BETWEEN ? AND ?", []any{from, from, to}, &n)
		if err != nil {
			return 0, err
		}
	}
	d.next[kind] = n + 1
	return n, nil
}

// change notes what is stored before the first change.
func (f *folding) change() {
	if f.dirty {
		return
	}
	f.dirty = true
	if f.folded {
		f.was = was{digest: f.rec.Digest(), refs: f.references(), words: f.words(f.rec), kept: len(f.rec.Retirements)}
	} else {
		f.was = was{}
	}
}

func (f *folding) apply(origin merge.Origin, body entry.Body) {
	f.change()
	f.folded = true
	f.lamport = max(f.lamport, origin.Lamport)
	f.rec.Apply(merge.Write{Origin: origin, Body: body})
}

// replace puts another state in the place of the current one.
func (f *folding) replace(to refolded) {
	f.change()
	f.rec, f.folded, f.lamport = to.rec, to.applied > 0, to.lamport
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
	lamport uint64
}

// refold folds a record from its entries whose stored status is applied.
func (m *memory) refold(q querier, id entry.RecordID, n recordKey) (refolded, error) {
	r := refolded{rec: m.blank(id)}
	err := q.each(func(scan func(...any) error) error {
		var key entryKey
		var hash, header, body []byte
		if err := scan(&key, &hash, &header, &body); err != nil {
			return err
		}
		h, err := entry.DecodeHeader(header)
		if err != nil {
			return fmt.Errorf("entry %v: %w (%w)", key.place(), ErrCorrupt, err)
		}
		at := key.place()
		if int(at.Branch) >= len(m.branches) {
			return fmt.Errorf("entry %v: %w", at, ErrCorrupt)
		}
		origin := merge.Origin{ID: entryID(m.branches[at.Branch].log.id, at.Seq, hash), Lamport: h.Lamport, Wall: h.Wall}
		r.rec.Apply(merge.Write{Origin: origin, Body: readBody(body)})
		r.applied++
		r.lamport = max(r.lamport, h.Lamport)
		return nil
	}, "SELECT n, hash, header, body FROM entry WHERE record = ? AND status = ? ORDER BY n", n, merge.Applied)
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
