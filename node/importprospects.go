package node

import (
	"slices"

	"plumbline/node/importer"
	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
)

// prospectsHere are the prospects who are here, to be found by what a row says of them
// where its key finds none. They are read once, and only if a row needs it.
type prospectsHere struct {
	// byName is by the words of their names.
	byName map[string][]entry.RecordID
	// byListID is by what lists call them: this one, or none, which is by hand.
	byListID map[listName][]entry.RecordID
}

// listName is an id as a list has it.
type listName struct{ source, id string }

func (b *importing) prospects() *prospectsHere {
	if b.here != nil {
		return b.here
	}
	b.here = &prospectsHere{byName: map[string][]entry.RecordID{}, byListID: map[listName][]entry.RecordID{}}
	for stored, err := range b.n.store.Records(b.ctx, storage.Query{Kind: record.Prospect}) {
		if err != nil {
			b.fail(err)
			break
		}
		leader := b.groups.Leader(stored.ID)
		b.here.addName(stored, leader)
		b.here.addListIDs(stored, leader, b.source)
	}
	return b.here
}

func (h *prospectsHere) addName(stored row, leader entry.RecordID) {
	reg := record.Must(record.Prospect, "name")
	v, ok := shownValue(stored.Record, reg)
	if !ok {
		return
	}
	name, err := reg.Text(v)
	if words := nameWords(fold(name)); err == nil && words != "" && !slices.Contains(h.byName[words], leader) {
		h.byName[words] = append(h.byName[words], leader)
	}
}

func (h *prospectsHere) addListIDs(stored row, leader entry.RecordID, source string) {
	reg := record.Must(record.Prospect, "list_id")
	have := stored.Find(reg.Address())
	if have == nil {
		return
	}
	for _, v := range have.Live {
		id, err := reg.Text(record.Value{Op: v.Op, Bytes: v.Data})
		name := listName{listNamed(v.Source), fold(id)}
		if err == nil && v.Op == entry.OpValue && (name.source == source || name.source == "") && !slices.Contains(h.byListID[name], leader) {
			h.byListID[name] = append(h.byListID[name], leader)
		}
	}
}

// listedHere finds the prospects whom the list calls as the row does, though their
// records weren't made by it: a row gave their ids. Where a table only names a prospect
// by a list's id, what people wrote by hand counts too.
func (b *importing) listedHere(p importer.Proposal) []entry.RecordID {
	id := listIDOf(p)
	if p.Kind != record.Prospect || p.AnotherOne || id == "" {
		return nil
	}
	found := b.prospects().byListID[listName{b.source, fold(id)}]
	if len(found) == 0 && p.Mention && b.nameOf(p) == "" {
		found = b.prospects().byListID[listName{"", fold(id)}]
	}
	return found
}

func listIDOf(p importer.Proposal) string {
	for _, f := range p.Fields {
		if f.Register == record.Must(record.Prospect, "list_id") {
			if text, err := f.Register.Text(f.Value); err == nil {
				return text
			}
		}
	}
	return ""
}
