package node

import (
	"bytes"
	"iter"
	"slices"

	"plumbline/node/importer"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// placed is a change of a record. Of several that are one, each is written to where
// that replaces something.
type placed struct {
	id entry.RecordID
	entry.Change
}

// stood is what a change is made beside or over: beside if other values stay next to
// it.
type stood struct {
	before string
	beside bool
}

// changes works out what a row changes, and tells of it.
func (b *importing) changes(p importer.Proposal, g group, exists bool, told *telling) []placed {
	var changes []placed
	for _, f := range p.Fields {
		above, same := b.saved.joined.earlier(p, g, f)
		if same {
			continue
		}
		had, before := len(changes), stood{}
		if changes, before = b.change(changes, p, g, exists, f); len(changes) == had {
			continue
		}
		told.field(f, before)
		if above > 0 {
			b.refuseEdit(p, f, above)
		}
		if f.Register == filedOn {
			if err := unfiledRow(p, g.union); err != nil {
				b.refuseCell(p, f, err.Error())
			}
		}
		b.refuseDay(p, f)
		if err := b.factor(f.Register, f.Value.Op); err != nil {
			b.refuseCell(p, f, err.Error()+"; else correct the head of the column, or leave it out")
		}
	}
	return changes
}

// byRecord takes the changes of a row apart, since an entry is about one record.
func byRecord(changes []placed) iter.Seq2[entry.RecordID, []entry.Change] {
	return func(yield func(entry.RecordID, []entry.Change) bool) {
		done := map[entry.RecordID]bool{}
		for i, first := range changes {
			if done[first.id] {
				continue
			}
			done[first.id] = true
			own := make([]entry.Change, 0, len(changes)-i)
			for _, c := range changes[i:] {
				if c.id == first.id {
					own = append(own, c.Change)
				}
			}
			if !yield(first.id, own) {
				return
			}
		}
	}
}

// draftEach drafts an entry for each record that a row changes.
func (b *importing) draftEach(p importer.Proposal, changes []placed) error {
	for id, own := range byRecord(changes) {
		if err := b.draft(id, b.sourceOf(p), own...); err != nil {
			return err
		}
	}
	return nil
}

// change compares one value with what stands, and adds what it changes. An import
// replaces only what was imported from the same list, and an edit in an export earlier
// edits too; beside other values its own is kept, as a conflict for a person to settle.
func (b *importing) change(to []placed, p importer.Proposal, g group, exists bool, f importer.FieldValue) ([]placed, stood) {
	c := entry.Change{Register: f.Register.Address(), Op: f.Value.Op, Value: f.Value.Bytes}
	if f.IsRef() {
		c.Op, c.Value = entry.OpReference, []byte(b.ids[naturalKey{f.RefKind, f.RefKey}])
	}
	if !exists {
		return append(to, placed{g.leader, c}), stood{}
	}
	home := g.members[0].ID
	if id := b.ids[naturalKey{p.Kind, p.NaturalKey}]; g.has(id) {
		home = id
	}
	reg := g.union.Find(c.Register)
	if reg == nil || len(reg.Live) == 0 {
		return append(to, placed{home, c}), stood{}
	}
	if slices.ContainsFunc(reg.Live, func(v merge.Value) bool { return v.Op == c.Op && bytes.Equal(v.Data, c.Value) }) {
		return to, stood{}
	}
	if b.isSuperseded(p, g, c) {
		b.stoodBefore(p, g, f)
		return to, stood{}
	}
	before := stood{before: b.standingIn(g, f.Register)}
	to, replaced := b.replacing(to, p, g, c, home)
	if before.beside = replaced < len(reg.Live); before.beside {
		b.report.Conflicts++
	}
	return to, before
}

// replacing writes a change to each record of a group where it replaces what the same
// person imported, since nothing replaces across records; to the
// one that is home if it does nowhere. It counts what is replaced.
func (b *importing) replacing(to []placed, p importer.Proposal, g group, c entry.Change, home entry.RecordID) ([]placed, int) {
	replaced := 0
	for _, m := range g.members {
		reg := m.Find(c.Register)
		if reg == nil {
			continue
		}
		into := c
		for _, v := range reg.Live {
			if standing, _, _ := b.n.store.Author(v.ID.Log); b.replaces(p, v.Source) && standing.Certificate.Person == b.cert.Person {
				into.Replaces = append(into.Replaces, v.ID)
			}
		}
		if len(into.Replaces) > 0 {
			to = append(to, placed{m.ID, into})
			replaced += len(into.Replaces)
		}
	}
	if replaced == 0 {
		to = append(to, placed{home, c})
	}
	return to, replaced
}

// isSuperseded reports whether the list said the same before and somebody who saw it
// wrote something else: reading the list again brings nothing new. An exported list
// said what stood there then, whoever wrote it.
func (b *importing) isSuperseded(p importer.Proposal, g group, c entry.Change) bool {
	for _, m := range g.members {
		reg := m.Find(c.Register)
		if reg == nil {
			continue
		}
		for _, id := range reg.Replaced {
			held, ok, err := b.n.store.Entry(b.ctx, id)
			if err != nil {
				b.fail(err)
			}
			if !ok || p.Record == "" && held.Body.Source != b.source {
				continue
			}
			if slices.ContainsFunc(held.Body.Changes, func(old entry.Change) bool {
				return old.Register == c.Register && old.Op == c.Op && bytes.Equal(old.Value, c.Value)
			}) {
				return true
			}
		}
	}
	return false
}
