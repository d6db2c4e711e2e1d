package node

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// reader answers one question. It remembers the names that it has looked up,
// and the first failure, so that the code that shows things reads plainly.
type reader struct {
	n      *Node
	ctx    context.Context
	groups *merge.Groups
	rows   map[entry.RecordID]storage.Row
	titles map[entry.RecordID]string
	err    error
}

func (n *Node) reader(ctx context.Context) *reader {
	return &reader{n: n, ctx: ctx, groups: n.store.Groups(), rows: map[entry.RecordID]storage.Row{}, titles: map[entry.RecordID]string{}}
}

func (r *reader) fail(err error) {
	if r.err == nil {
		r.err = err
	}
}

// row reads one record; false when nothing that counts was written to it.
func (r *reader) row(id entry.RecordID) (storage.Row, bool) {
	if row, ok := r.rows[id]; ok {
		return row, row.Record != nil
	}
	row, err := r.n.store.Record(r.ctx, id)
	if err != nil && !errors.Is(err, storage.ErrNoRecord) {
		r.fail(err)
	}
	if err != nil {
		row = storage.Row{}
	}
	r.rows[id] = row
	return row, row.Record != nil
}

// group is the records that are one, of which hidden ones count only if all are.
type group struct {
	leader  entry.RecordID
	members []storage.Row
	union   *merge.Record
}

// at says in which member a value stands: an entry is about one record.
func (g group) at(id entry.ID) entry.RecordID {
	for _, m := range g.members[1:] {
		for _, reg := range m.Registers {
			if slices.ContainsFunc(reg.Live, func(v merge.Value) bool { return v.ID == id }) {
				return m.ID
			}
		}
	}
	return g.members[0].ID
}

func (r *reader) group(id entry.RecordID) (group, bool) {
	g := group{leader: r.groups.Leader(id)}
	for _, m := range r.groups.Members(g.leader) {
		if row, ok := r.row(m); ok {
			g.members = append(g.members, row)
		}
	}
	if slices.ContainsFunc(g.members, shown) {
		g.members = slices.DeleteFunc(g.members, func(row storage.Row) bool { return !shown(row) })
	}
	if len(g.members) == 0 {
		return g, false
	}
	records := make([]*merge.Record, len(g.members))
	for i, m := range g.members {
		records[i] = m.Record
	}
	g.union = merge.Union(g.leader, records)
	return g, true
}

func shown(row storage.Row) bool { return row.Info.Visibility != merge.Hidden }

// visibility is the best of the members': a group is seen while one of them is.
func (g group) visibility() merge.Visibility {
	all := make([]merge.Visibility, len(g.members))
	for i, m := range g.members {
		all[i] = m.Info.Visibility
	}
	for _, v := range []merge.Visibility{merge.Disputed, merge.Visible} {
		if slices.Contains(all, v) {
			return v
		}
	}
	return merge.Hidden
}

// view shows a group as a record.
func (r *reader) view(g group) Record {
	view := Record{ID: g.leader, Title: r.title(g.leader), Visibility: g.visibility(), Kind: kindName(g.leader)}
	for _, m := range g.members {
		view.Members = append(view.Members, m.ID)
	}
	if g.leader.Class() == entry.Owned {
		view.Owner = Author{Person: g.leader.Person(), Name: r.personName(g.leader.Person())}
	}
	for _, reg := range g.union.Registers {
		if len(reg.Live) > 0 {
			view.Fields = append(view.Fields, r.field(g, reg))
		}
	}
	return view
}

func kindName(id entry.RecordID) string {
	if k, ok := record.Stored().KindOf(id); ok {
		return k.Name
	}
	return fmt.Sprintf("kind %d", id.Kind())
}

func (r *reader) field(g group, reg *merge.Register) Field {
	known, ok := register(g.leader, reg.Register)
	f := Field{Name: pathOf(g.leader, reg.Register), Conflict: reg.Conflict()}
	if ok {
		f.Label = known.Field.Label
	}
	for _, v := range reg.Live {
		f.Values = append(f.Values, r.value(g, known, ok, v))
	}
	return f
}

// register finds what the schema knows of a register.
func register(id entry.RecordID, address entry.Register) (record.Register, bool) {
	k, ok := record.Stored().KindOf(id)
	if !ok {
		return record.Register{}, false
	}
	return k.At(address)
}

// pathOf names a register to people; one that is newer than this program by
// its number.
func pathOf(id entry.RecordID, address entry.Register) string {
	if known, ok := register(id, address); ok {
		return known.Path()
	}
	if address.Keyed {
		return fmt.Sprintf("field_%d.%s", address.Field, address.Key)
	}
	return fmt.Sprintf("field_%d", address.Field)
}

func (r *reader) value(g group, known record.Register, ok bool, v merge.Value) Value {
	view := Value{
		ID: v.ID, Record: g.at(v.ID), Author: r.author(v.ID.Log), Written: time.UnixMilli(v.Wall),
		Source: v.Source, Cleared: v.Op == entry.OpClear,
	}
	if view.Cleared {
		return view
	}
	if v.Op == entry.OpReference && entry.RecordID(v.Data).Valid() {
		view.Refers = entry.RecordID(v.Data)
	}
	if !ok {
		view.Unreadable, view.Text = true, fmt.Sprintf("(%d bytes, newer than this program)", len(v.Data))
		return view
	}
	stored := record.Value{Op: v.Op, Bytes: v.Data}
	plain, err := known.Native(stored)
	if err != nil {
		view.Unreadable, view.Text = true, "("+err.Error()+")"
		return view
	}
	view.JSON = plain
	view.Text = r.text(g.union, known, stored)
	if view.Refers != "" {
		view.Text = r.title(view.Refers)
	}
	return view
}

// text writes a value as the trade does. A measurement's number can only be
// written knowing what was measured.
func (r *reader) text(of *merge.Record, known record.Register, stored record.Value) string {
	if known.Kind.Number == record.Measurement && known.Field.Name == "reading" {
		if what, ok := shownValue(of, record.Must(record.Measurement, "what")); ok {
			if text, err := record.MeasuredText(what, stored); err == nil {
				return text
			}
		}
	}
	text, err := known.Text(stored)
	if err != nil {
		return "(" + err.Error() + ")"
	}
	return text
}

// shownValue returns the value to show of a register.
func shownValue(of *merge.Record, reg record.Register) (record.Value, bool) {
	if have := of.Find(reg.Address()); have != nil {
		if v, ok := have.Shown(); ok {
			return record.Value{Op: v.Op, Bytes: v.Data}, true
		}
	}
	return record.Value{}, false
}

// author says whose log it is.
func (r *reader) author(log entry.LogID) Author {
	standing, device, ok := r.n.store.Author(log)
	if !ok {
		return Author{}
	}
	if standing.Root {
		return Author{Name: "the staff's root", Device: device}
	}
	person := standing.Certificate.Person
	return Author{Person: person, Name: r.personName(person), Device: device}
}

func (r *reader) personName(id entry.PersonID) string {
	return r.nameOf(personRecord(id), "person "+id.String()[:8])
}

func (r *reader) deviceName(person entry.PersonID, id entry.DeviceID) string {
	return r.nameOf(deviceRecord(person, id), "laptop "+id.String()[:8])
}

// nameOf reads a record's name, the record of a group that speaks for it.
func (r *reader) nameOf(id entry.RecordID, otherwise string) string {
	if name := r.shownText(id, "name"); name != "" {
		return name
	}
	return otherwise
}

// shownText returns the shown value of one field as text; "" for none.
func (r *reader) shownText(id entry.RecordID, field string) string {
	row, ok := r.row(id)
	if !ok {
		return ""
	}
	reg := record.Must(id.Kind(), field)
	v, ok := shownValue(row.Record, reg)
	if !ok {
		return ""
	}
	return r.text(row.Record, reg, v)
}

func (r *reader) shownRef(id entry.RecordID, field string) entry.RecordID {
	row, ok := r.row(id)
	if !ok {
		return ""
	}
	if v, ok := shownValue(row.Record, record.Must(id.Kind(), field)); ok {
		return entry.RecordID(v.Bytes)
	}
	return ""
}

// title names a record to people in one line.
func (r *reader) title(id entry.RecordID) string {
	id = r.groups.Leader(id)
	if t, ok := r.titles[id]; ok {
		return t
	}
	// Marked before it is known, since references may run in a circle.
	r.titles[id] = shortID(id)
	if t := r.compose(id); t != "" {
		r.titles[id] = t
	}
	return r.titles[id]
}

func (r *reader) compose(id entry.RecordID) string {
	join := func(parts ...string) string {
		return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), ", ")
	}
	refer := func(field string) string {
		if to := r.shownRef(id, field); to.Valid() {
			return r.title(to)
		}
		return ""
	}
	switch id.Kind() {
	case record.Prospect, record.Person, record.Device, record.Factor, record.Staff:
		return r.shownText(id, "name")
	case record.Measurement:
		return join(refer("prospect"), r.shownText(id, "what")+" "+r.shownText(id, "reading"))
	case record.Game:
		return join(r.shownText(id, "away")+" at "+r.shownText(id, "home"), r.shownText(id, "date"))
	case record.Look:
		return join(refer("prospect"), refer("game"), "seen by "+r.personName(id.Person()))
	case record.Rep:
		return join("rep "+r.shownText(id, "number"), refer("look"))
	case record.Evaluation:
		return join(refer("prospect"), "evaluated by "+r.personName(id.Person()))
	case record.Claim:
		return join(r.shownText(id, "text"), refer("evaluation"))
	case record.Flag, record.Assignment:
		return join(kindName(id), refer("prospect"))
	}
	return ""
}

// shortID names a record that nothing else names.
func shortID(id entry.RecordID) string {
	text := id.String()
	return kindName(id) + " " + text[max(0, len(text)-8):]
}

func (g group) has(id entry.RecordID) bool {
	return slices.ContainsFunc(g.members, func(m storage.Row) bool { return m.ID == id })
}
