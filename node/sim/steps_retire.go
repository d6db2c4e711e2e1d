package sim

import (
	"slices"

	"plumbline/node"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
	"plumbline/sync/merge/mergetest"
)

func (w *World) retire(d *dice) {
	l := w.someone(d, writer)
	if l == nil {
		return
	}
	id, ok := l.mine(d, w.records)
	if !ok {
		return
	}
	if !d.one(3) {
		l.show(id)
	}
	draft, ok := l.retirement(id)
	if !ok {
		return
	}
	w.count.add("retirement")
	says := draft.Body.Retirement
	slices.SortFunc(says.Heads, func(a, b entry.ID) int { return w.written.number[w.fact(a)] - w.written.number[w.fact(b)] })
	says.Heads = d.unforked(says.Heads)
	l.save(draft)
}

// keep answers retirements of a record that is retired where its author looks.
func (w *World) keep(d *dice) {
	l := w.someone(d, func(l *Laptop) bool { return writer(l) && len(l.retired()) > 0 })
	if l == nil {
		return
	}
	id := pick(d, l.retired())
	if _, seen := l.read[id]; !seen || d.one(3) {
		l.show(id)
	}
	if draft, ok := l.keeping(id); ok {
		w.count.add("kept")
		l.save(draft)
	}
}

// retired lists the records that the laptop may write to and that were retired.
func (l *Laptop) retired() []entry.RecordID {
	_, cert, _ := l.best()
	return slices.DeleteFunc(slices.Clone(l.w.records), func(id entry.RecordID) bool {
		if !merge.MayWrite(cert, id) {
			return true
		}
		row, err := l.up.store.Record(background, id)
		return err != nil || row.Info.Visibility == merge.Visible
	})
}

// joinRecords says of two prospects that they are, or are not, one.
func (w *World) joinRecords(d *dice) {
	l := w.someone(d, writer)
	if l == nil {
		return
	}
	i := d.IntN(prospects)
	a, b := w.records[i], w.records[(i+1+d.IntN(prospects-1))%prospects]
	if d.one(2) {
		a, b = w.records[0], w.records[1]
	}
	id := entry.SameAsID(a, b)
	l.show(id)
	register := func(n uint32) entry.Register { return entry.Register{Field: n} }
	said := entry.Change{Register: register(merge.SameVerdict), Op: entry.OpValue, Value: pick(d, [][]byte{merge.Yes, merge.Yes, merge.No})}
	if !d.one(3) {
		said.Replaces = l.screen[cell{id, said.Register}]
	}
	l.save(node.Draft{Record: id, Body: changes(said,
		entry.Change{Register: register(merge.SameFirst), Op: entry.OpReference, Value: []byte(a)},
		entry.Change{Register: register(merge.SameSecond), Op: entry.OpReference, Value: []byte(b)})})
}

// erased names what is to be erased as a director's laptop does.
func (w *World) erase(d *dice) {
	l := w.someone(d, director)
	if l == nil {
		return
	}
	var e entry.Erasure
	var some []*mergetest.Fact
	for _, f := range w.written.order {
		if l.held[f] && f.Says.Kind == entry.KindChanges {
			some = append(some, f)
		}
	}
	if len(some) == 0 {
		return
	}
	for range 1 + d.IntN(2) {
		e.Entries = append(e.Entries, mergetest.Erased(pick(d, some)))
	}
	if d.one(8) {
		e.Records = append(e.Records, pick(d, w.records))
	}
	l.save(node.Draft{Body: entry.Body{Kind: entry.KindErasure, Erasure: &e}})
}
