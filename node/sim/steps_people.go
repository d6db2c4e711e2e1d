package sim

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"plumbline/node"
	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
	"plumbline/sync/merge/mergetest"
)

// The records of a world: prospects, an assignment, and for each of the first people a
// look at a prospect and two reps. All are invented.
const prospects = 4

func (w *World) drawRecords() []entry.RecordID {
	var ids []entry.RecordID
	shared := func(n byte) entry.RecordID {
		return entry.NewRecordID(entry.Shared, record.Prospect, entry.PersonID{}, [16]byte{n})
	}
	for n := range byte(prospects) {
		ids = append(ids, shared(n+1))
	}
	ids = append(ids, entry.NewRecordID(entry.Directors, record.Assignment, entry.PersonID{}, [16]byte{1}))
	for _, l := range w.laptops[:min(3, len(w.laptops))] {
		for n, kind := range []entry.Kind{record.Look, record.Rep, record.Rep} {
			ids = append(ids, entry.NewRecordID(entry.Owned, kind, l.person, [16]byte{byte(n + 1)}))
		}
	}
	return ids
}

// registers that people write to: two fields and two keys of a third.
var registers = []entry.Register{{Field: 1}, {Field: 2}, {Field: 7, Keyed: true, Key: "anchor"}, {Field: 7, Keyed: true, Key: ""}}

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
	heads, err := l.up.store.Heads(background, id)
	if err != nil {
		l.w.fail("%s can't tell the heads of a record: %v", l, err)
	}
	l.read[id] = heads
}

func (w *World) look(d *dice) {
	if l := w.someone(d, running); l != nil {
		l.show(pick(d, w.records))
	}
}

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

// save writes drafts. A laptop whose disk works and which may write has no reason
// to refuse.
func (l *Laptop) save(drafts ...node.Draft) []entry.ID { return l.saveAll(node.Save{Drafts: drafts}) }

func (l *Laptop) saveAll(save node.Save) []entry.ID {
	faulty := l.disk.Faults().failing > 0
	if _, _, ok := l.best(); !ok {
		return nil
	}
	late := l.w.unheardCut(l)
	saved := l.step(save)
	if saved.Err != nil && !faulty && l.up != nil {
		l.w.fail("%s refuses to save: %v", l, saved.Err)
	}
	for i, id := range saved.IDs {
		if late {
			l.w.late[l.w.fact(id)] = true
		}
		if i < len(save.Drafts) {
			draft := save.Drafts[i]
			l.w.say("%s wrote %d to %.4s: %s", l, l.w.written.number[l.w.fact(id)], draft.Record.String(), describe(draft.Body))
		}
	}
	return saved.IDs
}

func describe(b entry.Body) string {
	if b.Kind == entry.KindChanges {
		var parts []string
		for _, c := range b.Changes {
			parts = append(parts, fmt.Sprintf("%d%s op %d %.12q replacing %d", c.Field, c.Key, c.Op, c.Value, len(c.Replaces)))
		}
		return strings.Join(parts, ", ")
	}
	switch b.Kind {
	case entry.KindCut:
		return fmt.Sprintf("cuts device %.4s", b.Cut.Device)
	case entry.KindGrant:
		cert, _ := entry.DecodeCertificate(b.Grant.Certificate)
		return fmt.Sprintf("grants device %.4s", entry.DeviceOf(cert.Device))
	}
	return fmt.Sprint("kind ", b.Kind)
}

// changes drafts one entry's worth of them, in any order and now and then twice
// for one register.
func (l *Laptop) changes(d *dice, id entry.RecordID) entry.Body {
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
		l.save(node.Draft{Record: id, Body: l.changes(d, id)})
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
			drafts = append(drafts, node.Draft{Record: id, Body: l.changes(d, id)})
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
	if heads, ok := l.read[id]; ok {
		w.count.add("retirement")
		slices.SortFunc(heads.Heads, func(a, b entry.ID) int { return w.written.number[w.fact(a)] - w.written.number[w.fact(b)] })
		heads.Heads = d.unforked(heads.Heads)
		l.save(node.Draft{Record: id, Body: entry.Body{Kind: entry.KindRetirement, Retirement: &heads}})
	}
}

func (w *World) keep(d *dice) {
	if l := w.someone(d, writer); l != nil {
		if id, ok := l.mine(d, w.records); ok {
			w.count.add("kept")
			l.save(node.Draft{Record: id, Body: entry.Body{Kind: entry.KindKeep}})
		}
	}
}

// joinRecords says of two prospects that they are, or are not, one.
func (w *World) joinRecords(d *dice) {
	l := w.someone(d, writer)
	if l == nil {
		return
	}
	i := d.IntN(prospects)
	a, b := w.records[i], w.records[(i+1+d.IntN(prospects-1))%prospects]
	id := entry.SameAsID(a, b)
	l.show(id)
	register := func(n uint32) entry.Register { return entry.Register{Field: n} }
	said := entry.Change{Register: register(merge.SameVerdict), Op: entry.OpValue, Value: pick(d, [][]byte{merge.Yes, merge.Yes, merge.No})}
	said.Replaces = l.screen[cell{id, said.Register}]
	l.save(node.Draft{Record: id, Body: changes(said,
		entry.Change{Register: register(merge.SameFirst), Op: entry.OpReference, Value: []byte(a)},
		entry.Change{Register: register(merge.SameSecond), Op: entry.OpReference, Value: []byte(b)})})
}

// trespass writes where the author may not: another program than ours did it.
func (w *World) trespass(d *dice) {
	if l := w.someone(d, writer); l != nil {
		id := pick(d, w.records)
		l.save(node.Draft{Record: id, Body: l.changes(d, id)})
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

// meet adds a record to those of the world.
func (w *World) meet(id entry.RecordID) {
	if !slices.Contains(w.records, id) {
		w.records = append(w.records, id)
	}
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
