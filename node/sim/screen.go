package sim

import (
	"errors"
	"maps"
	"slices"

	"plumbline/node"
	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
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
	g := glance{asOf: read.String(), held: maps.Clone(l.held), visibility: row.Info.Visibility}
	for _, r := range row.Retirements {
		g.retirements = append(g.retirements, r.ID)
	}
	l.read[id] = g
}

func (w *World) look(d *dice) {
	if l := w.someone(d, running); l != nil {
		l.show(pick(d, w.records))
		if director(l) && !l.up.store.Blocked() {
			l.list(d)
		}
	}
}

// cell is one register of one record.
type cell struct {
	record entry.RecordID
	reg    entry.Register
}
