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
	wanted := map[entry.RecordID]int64{}
	var numbers, keys []any
	for i := range entries {
		id := entries[i].Header.Record
		if _, met := wanted[id]; met || id == "" || d.records[id] != nil {
			continue
		}
		key := idKey(id)
		if !d.known.may(key) {
			d.begin(id, key)
			continue
		}
		wanted[id] = key
		numbers = append(numbers, d.unkeyed.find(key)...)
	}
	if len(wanted) < lookAtOnce/4 {
		return nil
	}
	if err := d.meetThose(wanted, metByNumber, numbers); err != nil {
		return err
	}
	for _, key := range wanted {
		keys = append(keys, key)
	}
	if err := d.meetThose(wanted, metByKey, keys); err != nil {
		return err
	}
	for id := range wanted {
		d.strangers[id] = true
	}
	return nil
}

// Where records are met: by their numbers or by the keys of their ids.
const (
	metByNumber = "record r" + sole + "WHERE r.n IN "
	metByKey    = "record_key k CROSS JOIN record r ON r.n = k.n" + sole + "WHERE k.key IN "
)

// meetThose reads records, many at a time, and strikes them off those wanted.
func (d *draft) meetThose(wanted map[entry.RecordID]int64, by string, values []any) error {
	slices.SortFunc(values, func(a, b any) int { return cmp.Compare(a.(int64), b.(int64)) })
	for len(values)%lookAtOnce > 0 {
		values = append(values, values[0]) // so that one statement does for all
	}
	for some := range slices.Chunk(values, lookAtOnce) {
		met, err := d.heldRecords(by+"("+marks(lookAtOnce)+")", some...)
		if err != nil {
			return err
		}
		for _, f := range met {
			delete(wanted, f.id)
		}
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
	} else {
		text, args := d.byID(id)
		if met, err := d.heldRecords("record r"+sole+"WHERE r.n = ("+text+")", args...); err != nil {
			return nil, err
		} else if len(met) > 0 {
			return met[0], nil
		}
	}
	return d.begin(id, idKey(id)), nil
}

// begin makes a record that isn't held.
func (d *draft) begin(id entry.RecordID, key int64) *folding {
	f := &folding{n: d.number(id.Kind()), key: key, id: id, fresh: true, rec: d.blank(id)}
	d.take(f)
	return f
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
func (d *draft) heldRecords(from string, args ...any) (met []*folding, err error) {
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
	}, "SELECT r.n, r.id, r.state, coalesce(r.lamport, 0), r.visibility, "+soleEntry+" FROM "+from, args...)
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
			f.rec, f.sole, f.marked, f.lamport = &merge.Record{ID: f.id}, e.n, e.n, w.Lamport
			f.rec.Apply(w)
		}
	}
	return err
}
