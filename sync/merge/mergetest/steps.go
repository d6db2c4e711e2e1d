package mergetest

import (
	"slices"

	"pgregory.net/rapid"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// put writes on a laptop that may hold less than there is, or be far ahead.
func (h *History) put(record entry.RecordID, body entry.Body) {
	held := Pick(h.t, "held", []uint64{h.lamport, h.lamport, 0, 1 << 40})
	Pick(h.t, "by", h.Data).PutHolding(record, body, held)
}

func (h *History) changes(record entry.RecordID, changes ...entry.Change) {
	h.put(record, entry.Body{Kind: entry.KindChanges, Changes: changes})
}

func (h *History) write() {
	record := Pick(h.t, "record", h.Records[:plain])
	var changes []entry.Change
	for range rapid.IntRange(1, 3).Draw(h.t, "changes") {
		c := entry.Change{
			Register: Pick(h.t, "register", []entry.Register{Reg(1), Reg(2), {Field: 3, Keyed: true}, {Field: 3, Keyed: true, Key: "k"}}),
			Op:       Pick(h.t, "op", []entry.Op{entry.OpValue, entry.OpValue, entry.OpReference, entry.OpClear, 3}),
			Replaces: IDs(h.replaced(record)),
		}
		switch c.Op {
		case entry.OpValue, 3:
			c.Value = []byte(Pick(h.t, "value", []string{"", "oak", "elm ash"}))
		case entry.OpReference:
			c.Value = []byte(h.referred())
		}
		changes = append(changes, c)
	}
	h.changes(record, changes...)
}

func (h *History) replaced(record entry.RecordID) []*Fact {
	return Some(h.t, "replaces", h.on(record), 3)
}

// referred is any record, one that nobody writes, or something that is none.
func (h *History) referred() entry.RecordID {
	return Pick(h.t, "reference", append(h.Records[:plain:plain], Prospect(9), "no record"))
}

// hang makes a look or a rep refer to another record.
func (h *History) hang() {
	record := Pick(h.t, "record", h.Records[looks:plain])
	h.changes(record, Refer(4, h.referred(), h.replaced(record)...))
}

// join says of two prospects that they are, or are not, one.
func (h *History) join() {
	p := h.Records[:3]
	pair := Pick(h.t, "pair", [][2]entry.RecordID{{p[0], p[1]}, {p[1], p[2]}, {p[0], p[2]}})
	verdict := Pick(h.t, "verdict", [][]byte{merge.Yes, merge.Yes, merge.No})
	record := entry.SameAsID(pair[0], pair[1])
	h.changes(record, sameChanges(verdict, pair[0], pair[1], h.replaced(record))...)
}

func (h *History) forkLine() {
	lines := &h.Data
	if rapid.Bool().Draw(h.t, "fork control") {
		lines = &h.Control
	}
	l := Pick(h.t, "line", *lines)
	at := Pick(h.t, "after", h.That(func(f *Fact) bool { return f.First == l.At.First }))
	clone := l.Fork(at)
	*lines = append(*lines, clone)
	if lines == &h.Data {
		for _, end := range []*Line{l, clone, l, clone} {
			end.Write(Pick(h.t, "record", h.Records[:plain]), Value(1, "fir"))
		}
	}
}

// forked narrows to entries beside which another one has their number.
func forked(facts []*Fact) (list []*Fact) {
	for _, f := range facts {
		if slices.ContainsFunc(facts, func(g *Fact) bool { return g != f && g.First == f.First && g.Seq == f.Seq }) {
			list = append(list, f)
		}
	}
	return list
}

func (h *History) retire() {
	record := Pick(h.t, "record", h.Records)
	var r entry.Retirement
	if rapid.Bool().Draw(h.t, "read all") {
		r.Heads = IDs(Without(h.That(func(f *Fact) bool { return f.Header.Record != "" }), Some(h.t, "but", h.on(record), 1)...))
	} else {
		r.Heads = IDs(append(Some(h.t, "heads", h.Facts, 4), Some(h.t, "forked heads", forked(h.on(record)), 2)...))
	}
	r.SetAside = IDs(Some(h.t, "set aside", h.on(record), 1))
	h.put(record, entry.Body{Kind: entry.KindRetirement, Retirement: &r})
}

func (h *History) keep() {
	h.put(Pick(h.t, "record", h.Records), entry.Body{Kind: entry.KindKeep})
}

// rest is what is seldom: link keys, kinds that nobody knows yet, entries in
// logs that have no business there.
func (h *History) rest() {
	key := entry.Body{Kind: entry.KindLinkKey, LinkKey: &entry.LinkKey{Seen: IDs(h.seen())}}
	unknown := entry.Body{Kind: 77, Unknown: []byte("later")}
	switch rapid.IntRange(0, 9).Draw(h.t, "rest") {
	case 0:
		Pick(h.t, "by", h.Control).Put("", unknown)
	case 1, 2:
		Pick(h.t, "by", h.Data).Put(Pick(h.t, "record", h.Records), unknown)
	case 3:
		Pick(h.t, "by", h.Data).Put("", key)
	case 4:
		Pick(h.t, "by", h.Control).Write(Pick(h.t, "record", h.Records), Value(1, "oak"))
	default:
		Pick(h.t, "by", h.Control).Put("", key)
	}
}

// seen is the ends of control logs that the author of a link key had seen: all,
// some, or entries of any kind.
func (h *History) seen() (heads []*Fact) {
	switch rapid.IntRange(0, 3).Draw(h.t, "seen") {
	case 0:
		return Some(h.t, "seen heads", h.Facts, 3)
	case 1:
		return Some(h.t, "seen cuts", h.Cuts, 3)
	}
	for _, l := range h.Control {
		heads = append(heads, l.At)
	}
	return heads
}
