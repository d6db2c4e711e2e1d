package sim

import (
	"fmt"
	"slices"

	"plumbline/node"
	"plumbline/sync/entry"
)

// change writes to one register of a record, replacing what stands on the
// screen: all of it, a part, or nothing, as one who saw nothing.
func (l *Laptop) change(d *dice, id entry.RecordID) entry.Change {
	if !d.one(3) {
		l.show(id)
	}
	c := entry.Change{Register: registers[min(d.IntN(len(registers)), d.IntN(len(registers)))], Op: entry.OpValue}
	seen := l.screen[cell{id, c.Register}]
	switch d.IntN(6) {
	case 0:
	case 1:
		c.Replaces = seen[:len(seen)/2]
	default:
		c.Replaces = slices.Clone(seen)
	}
	switch d.IntN(8) {
	case 0:
		c.Op = entry.OpClear
	case 1, 2:
		c.Value = []byte(pick(d, []string{"oak", "elm ash"}))
	default:
		l.w.saves++
		c.Value = []byte(fmt.Sprint("seen ", l.w.saves))
	}
	if l.w.plan.Long && d.one(3) && c.Op == entry.OpValue {
		for range d.IntN(14_000) {
			c.Value = append(c.Value, 'a'+byte(d.IntN(26)))
		}
		l.w.count.add("long value")
	}
	return c
}

// edits drafts one entry's worth of them, in any order and now and then twice
// for one register.
func (l *Laptop) edits(d *dice, id entry.RecordID) entry.Body {
	body := changes(l.change(d, id))
	for d.one(3) && len(body.Changes) < 3 {
		body.Changes = append(body.Changes, l.change(d, id))
	}
	return body
}

func changes(c ...entry.Change) entry.Body { return entry.Body{Kind: entry.KindChanges, Changes: c} }

func (w *World) write(d *dice) {
	l := w.someone(d, writer)
	if l == nil {
		return
	}
	if id, ok := l.mine(d, w.records); ok {
		l.save(node.Draft{Record: id, Body: l.edits(d, id)})
	}
}

// writeSeveral writes to several records in one transaction.
func (w *World) writeSeveral(d *dice) {
	l := w.someone(d, writer)
	if l == nil {
		return
	}
	var drafts []node.Draft
	for range 2 + d.IntN(12) {
		if id, ok := l.mine(d, w.records); ok {
			drafts = append(drafts, node.Draft{Record: id, Body: l.edits(d, id)})
		}
	}
	l.save(drafts...)
}

// refer hangs one record to another: a rep to a look, a look to a prospect.
func (w *World) refer(d *dice) {
	l := w.someone(d, writer)
	if l == nil {
		return
	}
	if id, ok := l.mine(d, w.records[prospects:]); ok {
		c := l.change(d, id)
		c.Register, c.Op = entry.Register{Field: 1}, entry.OpReference
		c.Value, c.Replaces = []byte(pick(d, w.records)), l.screen[cell{id, c.Register}]
		l.save(node.Draft{Record: id, Body: changes(c)})
	}
}

// trespass writes where the author may not: another program than ours did it.
func (w *World) trespass(d *dice) {
	if l := w.someone(d, writer); l != nil {
		id := pick(d, w.records)
		l.save(node.Draft{Record: id, Body: l.edits(d, id)})
	}
}

// newer writes what only a later program knows: a kind of record, a field, a
// kind of entry or, seldom, one that decides over others.
func (w *World) newer(d *dice) {
	l := w.someone(d, writer)
	if l == nil {
		return
	}
	id, ok := l.mine(d, w.records)
	if !ok {
		return
	}
	body := changes(l.change(d, id))
	switch n := d.IntN(10); {
	case n < 3:
		id = entry.NewRecordID(entry.Shared, 999, entry.PersonID{}, [16]byte{byte(1 + d.IntN(2))})
		body = changes(l.change(d, id))
		w.count.add("newer kind")
		w.meet(id)
	case n < 7:
		body.Changes[0].Register = entry.Register{Field: 4242}
		body.Changes[0].Replaces = l.screen[cell{id, body.Changes[0].Register}]
		w.count.add("newer field")
	case n < 9 || d.one(2):
		body = entry.Body{Kind: 77, Unknown: []byte("later")}
		w.count.add("newer body")
	default:
		if _, cert, _ := l.best(); cert.Role != entry.RoleDirector {
			return
		}
		id, body = "", entry.Body{Kind: 77, Unknown: []byte("later")}
		w.count.add("newer control entry")
	}
	l.save(node.Draft{Record: id, Body: body})
}

// leap lets a laptop write as far ahead of all others' Lamport times as receivers
// allow, as another program than ours might.
func (w *World) leap(d *dice) {
	l := w.someone(d, writer)
	if l == nil {
		return
	}
	if id, ok := l.mine(d, w.records); ok {
		store := l.up.store.(*watched)
		store.ahead = 1 << 60
		l.save(node.Draft{Record: id, Body: l.edits(d, id)})
		store.ahead = 0
		w.count.add("Lamport time leaps")
	}
}
