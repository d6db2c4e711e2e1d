package sim

import (
	"errors"
	"maps"
	"slices"

	"plumbline/node"
	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
	"plumbline/sync/merge/mergetest"
)

// mine picks a record that the laptop may write to, mostly one of the few that
// everybody writes to.
func (l *Laptop) mine(d *dice, from []entry.RecordID) (entry.RecordID, bool) {
	_, cert, ok := l.best()
	may := slices.DeleteFunc(slices.Clone(from), func(id entry.RecordID) bool { return !merge.MayWrite(cert, id) })
	if !ok || len(may) == 0 {
		return "", false
	}
	if d.one(2) {
		may = may[:min(2, len(may))]
	}
	return pick(d, may), true
}

// show puts what a record holds on the laptop's screen.
func (l *Laptop) show(id entry.RecordID) {
	row, err := l.up.store.Record(background, id)
	if errors.Is(err, storage.ErrNoRecord) {
		return
	}
	if err != nil {
		l.w.fail("%s can't show a record: %v", l, err)
		return
	}
	for _, reg := range row.Registers {
		var ids []entry.ID
		for _, v := range reg.Live {
			ids = append(ids, v.ID)
		}
		// In the order of writing, which no clock and no hash decides.
		slices.SortFunc(ids, func(a, b entry.ID) int { return l.w.written.number[l.w.fact(a)] - l.w.written.number[l.w.fact(b)] })
		l.screen[cell{id, reg.Register}] = ids
	}
	read, err := node.ReadNow(background, l.up.store, id)
	if err != nil {
		l.w.fail("%s can't tell up to where a record is read: %v", l, err)
	}
	l.read[id] = glance{asOf: read.String(), held: maps.Clone(l.held)}
}

// glance is what a person saw when a record was shown to them. It outlives the
// node's process, as an open page does.
type glance struct {
	asOf string
	held map[*mergetest.Fact]bool // all that the laptop held
}

// retirement is the entry by which a person retires what they saw once, as the
// node makes it; false where it is refused, since a disk lost what they saw.
func (l *Laptop) retirement(id entry.RecordID) (node.Draft, bool) {
	seen, ok := l.read[id]
	if !ok {
		return node.Draft{}, false
	}
	read, err := node.ParseReading(seen.asOf)
	if err != nil {
		l.w.fail("%s can't read up to where a record was read: %v", l, err)
	}
	draft, err := read.Retirement(background, l.up.store, id)
	if errors.Is(err, node.ErrInvalid) {
		l.w.count.add("retirement refused")
		return node.Draft{}, false
	}
	if err != nil {
		l.w.fail("%s can't retire a record: %v", l, err)
	}
	l.checkRead(id, seen, draft.Body.Retirement.Heads)
	return draft, true
}

// checkRead holds ledger rule 17 against what was on screen: a retirement covers
// nothing that came in after that.
func (l *Laptop) checkRead(id entry.RecordID, seen glance, heads []entry.ID) {
	for _, head := range heads {
		for f := l.w.fact(head); f != nil; f = f.Prev {
			if !seen.held[f] {
				l.w.fail("%s retires %.4s and covers entry %d, which came in after it was read", l, id.String(), l.w.written.number[f])
			}
		}
	}
	for f := range l.held {
		if !seen.held[f] && f.Header.Record == id {
			l.w.count.add("retired from an earlier screen")
			return
		}
	}
}

func (w *World) look(d *dice) {
	if l := w.someone(d, running); l != nil {
		l.show(pick(d, w.records))
	}
}

// cell is one register of one record.
type cell struct {
	record entry.RecordID
	reg    entry.Register
}
