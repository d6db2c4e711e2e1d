package sim

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"

	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
	"plumbline/sync/merge/mergetest"
)

// errEnded stops a laptop once a promise was broken.
var errEnded = errors.New("the run has failed")

// watched is a laptop's store, with everything that goes in held against what
// its author wrote.
type watched struct {
	Store
	l *Laptop
	// ahead is what the highest Lamport time held is said to be above the true one.
	ahead uint64
}

// Lamport implements [node.Ledger].
func (s *watched) Lamport() uint64 { return s.Store.Lamport() + s.ahead }

// Append implements [node.Ledger].
func (s *watched) Append(ctx context.Context, runs ...entry.Run) (storage.Outcome, error) {
	l := s.l
	facts, fresh := l.w.recognize(l, runs)
	if l.w.failure != nil {
		return storage.Outcome{}, errEnded
	}
	o, err := s.Store.Append(ctx, runs...)
	if err != nil {
		l.w.written.remove(fresh)
		// What was left before may still lie there: an append of nothing new writes
		// nothing over it.
		if errors.Is(err, storage.ErrUnsynced) && len(fresh) > 0 {
			l.unsure = fresh
		}
		if !injected(err) {
			l.w.count.add("append refused")
			l.w.say("%s refuses to store: %v", l, err)
		}
		return o, err
	}
	for _, f := range facts {
		l.store(f)
	}
	l.w.due.grown(l, runs, len(o.Tips), len(fresh) > 0)
	return o, nil
}

// store notes that a laptop holds an entry, durably.
func (l *Laptop) store(f *mergetest.Fact) {
	l.promised[f] = true
	if l.held[f] {
		return
	}
	l.held[f], l.changed = true, true
	l.set = l.set.with(f)
	if l.lost[f] && f.First.Says.Genesis != nil && bytes.Equal(f.First.Says.Genesis.Device, l.public()) {
		l.w.count.add("own tail pulled back")
		delete(l.lost, f)
	}
	for _, c := range f.Says.Changes {
		for _, id := range c.Replaces {
			if before := l.w.fact(id); before != nil && !l.held[before] {
				l.w.count.add("replaced before held")
			}
		}
	}
}

// digest is a sum over a set of entries. Equal sets have equal ones.
type digest [3]uint64

func (d digest) with(f *mergetest.Fact) digest {
	d[0]++
	d[1] += binary.BigEndian.Uint64(f.Hash[:])
	d[2] += binary.BigEndian.Uint64(f.Hash[8:])
	return d
}

// recognize holds runs against what their authors wrote. What nobody has written
// yet must be the laptop's own.
func (w *World) recognize(l *Laptop, runs []entry.Run) (facts, fresh []*mergetest.Fact) {
	for _, run := range runs {
		after := run.After
		for _, e := range run.Entries {
			f := w.written.facts[place{run.Log, e.Point}]
			switch {
			case f == nil:
				f = w.recognizeNew(l, run.Log, after, e)
				fresh = append(fresh, f)
			case !same(f, e.Raw):
				w.fail("%s was handed other bytes of %s than its author wrote", l, f.ID)
			}
			if w.failure != nil {
				return nil, nil
			}
			facts, after = append(facts, f), e.Point
		}
	}
	return facts, fresh
}

func (w *World) recognizeNew(l *Laptop, log entry.LogID, after entry.Point, e entry.Entry) *mergetest.Fact {
	f, err := w.written.add(log, after, e)
	if err != nil {
		w.fail("%s stores what can't be: %v", l, err)
		return nil
	}
	device := f.First.Says.Genesis.Device
	root := entry.StaffOf(device) == w.staff
	if !root && !bytes.Equal(device, l.public()) {
		w.fail("%s stores %s, which nobody wrote", l, f.ID)
	}
	if at := w.written.at[seat{log, e.Seq}]; len(at) > 1 {
		if !l.cloned {
			w.fail("%s used number %d of its log %s again", l, e.Seq, log)
		}
		w.count.add("fork")
	}
	if f.Says.Kind == entry.KindLinkKey && !root {
		w.count.add("link key changed")
		w.say("%s announces a link key", l)
	}
	if f.Prev == nil && !root {
		w.count.add("new log")
	}
	return f
}

// reopened reads back what a laptop holds after a start, which must be all that
// it had acknowledged, and come to what these entries come to.
func (l *Laptop) reopened() {
	w := l.w
	held, err := w.readAll(l.up.store)
	if err != nil {
		w.fail("%s, started again, can't be read: %v", l, err)
		return
	}
	for f := range l.promised {
		if !held[f] {
			w.fail("%s, started again, has lost %s, which it had acknowledged", l, f.ID)
			return
		}
	}
	l.held, l.set, l.changed = held, digest{}, true
	for f := range held {
		l.promised[f] = true
		l.set = l.set.with(f)
	}
	if l.up.store.Blocked() {
		return
	}
	if _, known := w.states[l.set]; !known {
		w.states[l.set] = w.replay(held)
	}
}

// replay folds entries from nothing.
func (w *World) replay(held map[*mergetest.Fact]bool) merge.StateHash {
	var facts []*mergetest.Fact
	for _, f := range w.written.order {
		if held[f] {
			facts = append(facts, f)
		}
	}
	return (&mergetest.World{Staff: w.staff}).Read(facts...).Hash
}

// readAll reads every entry of a store.
func (w *World) readAll(s Store) (map[*mergetest.Fact]bool, error) {
	held := map[*mergetest.Fact]bool{}
	for _, tip := range s.Tips() {
		raws, _, err := s.Range(tip.Log, entry.Point{}, tip.Point, 1<<30)
		if err != nil {
			return nil, err
		}
		at := entry.Point{Hash: entry.Origin(w.staff)}
		for _, raw := range raws {
			at = entry.Point{Seq: at.Seq + 1, Hash: at.Hash.Next(raw.Header)}
			f := w.written.facts[place{tip.Log, at}]
			if f == nil || !same(f, raw) {
				return nil, fmt.Errorf("entry %s isn't what its author wrote", at.ID(tip.Log))
			}
			held[f] = true
		}
		if at != tip.Point {
			return nil, fmt.Errorf("log %s ends before its tip", tip.Log)
		}
	}
	return held, nil
}
