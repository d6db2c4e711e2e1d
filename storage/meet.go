package storage

import (
	"cmp"
	"fmt"
	"slices"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// lookAtOnce is how many records one query finds by their ids. Most of what
// finding one costs is the call (measured).
const lookAtOnce = 64

// meet reads the records that entries are about, before they are needed one by
// one, and notes which of them are new.
func (d *draft) meet(entries []entry.Entry) error {
	wanted := make(map[entry.RecordID]bool, len(entries))
	for i := range entries {
		id := entries[i].Header.Record
		if id != "" && d.records[id] == nil && !d.strangers[id] {
			wanted[id] = true
		}
	}
	if len(wanted) < lookAtOnce/4 {
		return nil
	}
	keys := make([]any, 0, len(wanted)+lookAtOnce)
	for id := range wanted {
		keys = append(keys, idKey(id))
	}
	slices.SortFunc(keys, func(a, b any) int { return cmp.Compare(a.(int64), b.(int64)) })
	for len(keys)%lookAtOnce > 0 {
		keys = append(keys, keys[0]) // so that one statement does for all
	}
	for some := range slices.Chunk(keys, lookAtOnce) {
		met, err := d.heldRecords("k.key IN ("+marks(lookAtOnce)+")", some...)
		if err != nil {
			return err
		}
		for _, f := range met {
			delete(wanted, f.id)
		}
	}
	for id := range wanted {
		d.strangers[id] = true
	}
	return nil
}

// folding returns a record, read if it is held, else new with the next number.
func (d *draft) folding(id entry.RecordID) (*folding, error) {
	if f := d.records[id]; f != nil {
		return f, nil
	}
	if f := d.warm[id]; f != nil {
		d.take(f)
		return f, nil
	}
	if d.strangers[id] {
		delete(d.strangers, id)
	} else if met, err := d.heldRecords("k.key = ? AND r.id = ?", byID(id)...); err != nil {
		return nil, err
	} else if len(met) > 0 {
		return met[0], nil
	}
	f := &folding{n: d.number(id.Kind()), id: id, fresh: true, rec: d.blank(id)}
	d.take(f)
	return f, nil
}

func (d *draft) take(f *folding) {
	f.words = nil
	if d.projector != nil && f.n <= d.worded[f.id.Kind()] {
		f.words = d.projector.Words
	}
	d.records[f.id] = f
	delete(d.warm, f.id) // from here on it may be another one
	d.order = append(d.order, f)
}

// heldRecords reads records that the draft has no copy of yet.
func (d *draft) heldRecords(where string, args ...any) (met []*folding, err error) {
	err = d.read()(func(scan func(...any) error) error {
		f := &folding{}
		var id, state []byte
		var e entryRow
		if err := scan(append([]any{&f.n, &id, &state, &f.lamport, &f.shown}, e.columns()...)...); err != nil {
			return err
		}
		f.id = entry.RecordID(id)
		if d.records[f.id] != nil {
			return nil
		}
		if err := d.readState(f, state, e); err != nil {
			return fmt.Errorf("%w (%w)", ErrCorrupt, err)
		}
		d.take(f)
		met = append(met, f)
		return nil
	}, "SELECT r.n, r.id, r.state, r.lamport, r.visibility, "+soleEntry+
		" FROM record_key k CROSS JOIN record r ON r.n = k.n"+sole+"WHERE "+where, args...)
	return met, err
}

func (d *draft) readState(f *folding, state []byte, e entryRow) (err error) {
	f.folded = state != nil
	switch {
	case state == nil:
		f.rec = d.blank(f.id)
	case e.n == 0:
		f.rec, err = merge.Decode(f.id, state)
	default:
		var w merge.Write
		if w, err = e.write(d.branches[e.n.place().Branch].log.id); err == nil {
			f.rec, f.sole = &merge.Record{ID: f.id}, e.n
			f.rec.Apply(w)
		}
	}
	return err
}
