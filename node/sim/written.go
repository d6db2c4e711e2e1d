package sim

import (
	"bytes"
	"fmt"

	"plumbline/sync/entry"
	"plumbline/sync/merge/mergetest"
)

// written is everything that was ever written, as its author wrote it.
type written struct {
	facts  map[place]*mergetest.Fact
	order  []*mergetest.Fact
	number map[*mergetest.Fact]int
	at     map[seat][]*mergetest.Fact
}

// place is where an entry lies. Its whole hash is in it.
type place struct {
	log entry.LogID
	entry.Point
}

// seat is where only one entry may lie unless a disk was cloned.
type seat struct {
	log entry.LogID
	seq uint64
}

func newWritten() *written {
	return &written{facts: map[place]*mergetest.Fact{}, number: map[*mergetest.Fact]int{}, at: map[seat][]*mergetest.Fact{}}
}

// id names an entry, worked out here and not by the code under test.
func (p place) id() entry.ID {
	return entry.ID{Log: p.log, Seq: p.Seq, Hash: [16]byte(p.Hash[:16])}
}

// same reports whether the bytes are those of the author.
func same(f *mergetest.Fact, raw entry.Raw) bool {
	return bytes.Equal(f.Raw.Header, raw.Header) && bytes.Equal(f.Raw.Body, raw.Body)
}

// add files a new entry behind the one before it.
func (w *written) add(log entry.LogID, after entry.Point, e entry.Entry) (*mergetest.Fact, error) {
	says, err := entry.DecodeBody(e.Body)
	if err != nil {
		return nil, err
	}
	at := place{log, e.Point}
	f := &mergetest.Fact{Entry: e, ID: at.id(), Says: says}
	// The author's bytes, whatever becomes of the buffers that they came in.
	f.Raw = entry.Raw{Header: bytes.Clone(e.Raw.Header), Body: bytes.Clone(e.Body)}
	f.First = f
	if after.Seq > 0 {
		f.Prev = w.facts[place{log, after}]
		if f.Prev == nil {
			return nil, fmt.Errorf("entry %s follows one that was never written", f.ID)
		}
		f.First = f.Prev.First
	} else if says.Genesis == nil {
		return nil, fmt.Errorf("log %s begins with something else than its first entry", log)
	}
	w.facts[at] = f
	w.number[f] = len(w.order)
	w.order = append(w.order, f)
	w.at[seat{log, e.Seq}] = append(w.at[seat{log, e.Seq}], f)
	return f, nil
}

// put files entries once more that were taken back, and returns those that weren't
// there: a disk that refused them may have them after all.
func (w *written) put(facts []*mergetest.Fact) (again []*mergetest.Fact) {
	for _, f := range facts {
		is := place{f.ID.Log, f.Point}
		if w.facts[is] != nil {
			continue
		}
		w.facts[is] = f
		w.number[f] = len(w.order)
		w.order, again = append(w.order, f), append(again, f)
		at := seat{f.ID.Log, f.Seq}
		w.at[at] = append(w.at[at], f)
	}
	return again
}

// remove takes back the newest entries: their disk refused them.
func (w *written) remove(facts []*mergetest.Fact) {
	for _, f := range facts {
		at := seat{f.ID.Log, f.Seq}
		delete(w.facts, place{f.ID.Log, f.Point})
		delete(w.number, f)
		w.at[at] = w.at[at][:len(w.at[at])-1]
	}
	w.order = w.order[:len(w.order)-len(facts)]
}
