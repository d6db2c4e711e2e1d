package storage

import (
	"errors"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// flush stores the records folded so far. Storing one may bring in others, as
// yet unknown, to which it refers.
func (d *draft) flush() error {
	if err := errors.Join(d.newEntries.flush(), d.newSoles.flush()); err != nil {
		return err
	}
	for i := 0; i < len(d.order); i++ {
		if err := d.store(d.order[i]); err != nil {
			return err
		}
	}
	if err := errors.Join(d.newRows.flush(), d.newSingles.flush(), d.insertRefs(), d.storeKeys()); err != nil {
		return err
	}
	if len(d.order) >= cacheLimit {
		clear(d.records)
		d.order = nil
	}
	return nil
}

func (d *draft) store(f *folding) error {
	if !f.dirty {
		if !f.fresh {
			return nil
		}
		f.fresh = false
		return d.insertRow(f, nil, nil, 0, 0)
	}
	var state any
	var now was
	f.known = false
	if f.folded {
		state = f.state()
		now = f.is()
	}
	d.fold.hash = d.fold.hash.Sub(f.was.digest).Add(now.digest)
	d.touched, d.seeds = append(d.touched, f.id), append(d.seeds, f.id)
	if err := errors.Join(d.storeRow(f, state, now.kept), d.mark(f)); err != nil {
		return err
	}
	if err := d.storeRefs(f, now.refs); err != nil {
		return err
	}
	if err := d.storeWords(f, now.words); err != nil {
		return err
	}
	if now.kept > 0 || f.was.kept > 0 {
		if err := d.noteRetirements(f, now.kept); err != nil {
			return err
		}
	}
	if f.id.Kind() == entry.KindSameAs {
		d.notePair(f)
	}
	f.dirty, f.fresh = false, false
	return nil
}

func (d *draft) storeRow(f *folding, state any, kept int) error {
	var lamport any
	conflicts := 0
	if f.sole == 0 {
		lamport = f.lamport
	}
	if f.folded {
		conflicts = len(f.rec.Conflicts())
	}
	if f.fresh {
		return d.insertRow(f, state, lamport, conflicts, kept)
	}
	d.unpack(f.n)
	return d.w.exec("UPDATE record SET state = ?, lamport = ?, conflicts = ?, retirements = ? WHERE n = ?",
		state, lamport, conflicts, kept, f.n)
}

// state is what the record's row is to hold of it.
func (f *folding) state() any {
	if f.sole != 0 {
		return int64(f.sole)
	}
	return f.rec.Encode()
}

func (d *draft) insertRow(f *folding, state, lamport any, conflicts, kept int) error {
	d.newKeys = append(d.newKeys, newKey{f.key, f.n})
	d.unpack(f.n)
	if f.sole != 0 && conflicts == 0 && kept == 0 {
		return d.newSingles.add(int64(f.n), []byte(f.id), state)
	}
	return d.newRows.add(int64(f.n), []byte(f.id), state, lamport, conflicts, kept)
}

func (d *draft) storeRefs(f *folding, refs []entry.RecordID) error {
	for _, id := range missing(refs, f.was.refs) {
		target, err := d.folding(id)
		if err != nil {
			return err
		}
		d.newRefs = append(d.newRefs, newRef{target.n, f.n})
	}
	for _, id := range missing(f.was.refs, refs) {
		target, err := d.folding(id)
		if err != nil {
			return err
		}
		d.seeds = append(d.seeds, id)
		if err := d.deleteRef(newRef{target.n, f.n}); err != nil {
			return err
		}
	}
	return nil
}

// missing returns what of the first list the other one lacks. A peer's records can
// refer to a great many, so that they aren't compared with each other.
func missing[T comparable](all, other []T) (rest []T) {
	if len(other) == 0 {
		return all
	}
	has := make(map[T]bool, len(other))
	for _, x := range other {
		has[x] = true
	}
	for _, x := range all {
		if !has[x] {
			rest = append(rest, x)
		}
	}
	return rest
}

// storeWords leaves it to IndexWords to write what has changed.
func (d *draft) storeWords(f *folding, words string) error {
	if words == f.was.words {
		return nil
	}
	d.rewords = rewordsWith(d.rewords, f.n.kind(), true)
	return d.w.exec("INSERT OR IGNORE INTO reword (record) VALUES (?)", f.n)
}

func (d *draft) noteRetirements(f *folding, kept int) error {
	d.retiring = true
	if kept == 0 {
		delete(d.retired, f.id)
		return d.show(f, merge.Visible)
	}
	heads := headsOf(f.rec)
	named := missing(heads, d.retired[f.id]) // the others are held or awaited already
	d.retired[f.id] = heads
	return d.await(d.hashAt, f.id, named)
}

// show stores whether a record is visible.
func (d *draft) show(f *folding, v merge.Visibility) error {
	if f.shown == v {
		return nil
	}
	f.shown = v
	d.touched = append(d.touched, f.id)
	d.unpack(f.n)
	return d.w.exec("UPDATE record SET visibility = ? WHERE n = ?", v, f.n)
}

// notePair keeps up what a same-as record says. What it said before and what
// it says now are both affected.
func (d *draft) notePair(f *folding) {
	was, had := d.pairs[f.id]
	pair, ok := merge.ReadPair(f.rec)
	if had == ok && was == pair {
		return
	}
	d.pairing = true
	delete(d.pairs, f.id)
	if ok {
		d.pairs[f.id] = pair
	}
	for _, p := range []merge.Pair{was, pair} {
		if p.A != "" {
			d.seeds = append(d.seeds, p.A, p.B)
		}
	}
}
