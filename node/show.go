package node

import (
	"fmt"
	"strings"
	"time"

	"plumbline/node/record"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// view shows a group as a record.
func (r *reader) view(g group) Record {
	view := Record{ID: g.leader, Title: r.title(g.leader), Visibility: g.visibility(), Kind: kindName(g.leader), Owner: r.owner(g.leader)}
	for _, m := range g.members {
		view.Members = append(view.Members, m.ID)
	}
	for _, reg := range g.union.Registers {
		if len(reg.Live) > 0 {
			view.Fields = append(view.Fields, r.field(g, reg))
		}
	}
	return view
}

// owner is who alone may change a record; nobody if it isn't owned.
func (r *reader) owner(id entry.RecordID) Author {
	if id.Class() != entry.Owned {
		return Author{}
	}
	return Author{Person: id.Person(), Name: r.personName(id.Person())}
}

func kindName(id entry.RecordID) string { return nameOf(id.Kind()) }

func nameOf(kind entry.Kind) string {
	if k, ok := record.Stored().Kind(kind); ok {
		return k.Name
	}
	return fmt.Sprintf("kind %d", kind)
}

// aKind is kindName with its article.
func aKind(id entry.RecordID) string {
	name := kindName(id)
	if strings.ContainsRune("aeiou", rune(name[0])) {
		return "an " + name
	}
	return "a " + name
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
