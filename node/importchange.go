package node

import (
	"bytes"
	"maps"
	"slices"

	"plumbline/node/importer"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// placed is a change of one field: what is written to which record. Beside is set if
// other values stay next to it.
type placed struct {
	changes draftedChanges
	before  string
	beside  bool
}

// draftedChanges are the changes of one proposal, by the record that they are written
// to: of several that are one, each is written to where it replaces something.
type draftedChanges map[entry.RecordID][]entry.Change

func (d draftedChanges) add(c placed) {
	for id, changes := range c.changes {
		d[id] = append(d[id], changes...)
	}
}

// changes works out what a row changes, and tells of it.
func (b *importing) changes(p importer.Proposal, g group, exists bool, told *telling) draftedChanges {
	changes := draftedChanges{}
	for _, f := range p.Fields {
		if c, ok := b.change(p, g, exists, f); ok {
			changes.add(c)
			told.field(f, c)
		}
	}
	return changes
}

func (b *importing) draftEach(changes draftedChanges) error {
	for _, id := range slices.Sorted(maps.Keys(changes)) {
		if err := b.draft(id, b.source, changes[id]...); err != nil {
			return err
		}
	}
	return nil
}

// change compares one value with what stands. An import replaces only what was
// imported from the same list; beside other values its own is kept, as a
// conflict for a person to settle.
func (b *importing) change(p importer.Proposal, g group, exists bool, f importer.FieldValue) (placed, bool) {
	c := entry.Change{Register: f.Register.Address(), Op: f.Value.Op, Value: f.Value.Bytes}
	if f.IsRef() {
		c.Op, c.Value = entry.OpReference, []byte(b.ids[naturalKey{f.RefKind, f.RefKey}])
	}
	if !exists {
		return placed{changes: draftedChanges{g.leader: {c}}}, true
	}
	home := g.members[0].ID
	if id := b.ids[naturalKey{p.Kind, p.NaturalKey}]; g.has(id) {
		home = id
	}
	reg := g.union.Find(c.Register)
	if reg == nil || len(reg.Live) == 0 {
		return placed{changes: draftedChanges{home: {c}}}, true
	}
	if slices.ContainsFunc(reg.Live, func(v merge.Value) bool { return v.Op == c.Op && bytes.Equal(v.Data, c.Value) }) {
		return placed{}, false
	}
	if b.isSuperseded(p, g, c) {
		b.stoodBefore(p, g, f)
		return placed{}, false
	}
	out := placed{changes: b.replacing(g, c, home), before: b.shownIn(g, f.Register)}
	replaced := 0
	for _, changes := range out.changes {
		replaced += len(changes[0].Replaces)
	}
	if out.beside = replaced < len(reg.Live); out.beside {
		b.report.Conflicts++
	}
	return out, true
}

// replacing writes a change to each record of a group where it replaces what the same
// person imported from the same list, since nothing replaces across records; to the
// one that is home if it does nowhere.
func (b *importing) replacing(g group, c entry.Change, home entry.RecordID) draftedChanges {
	out := draftedChanges{}
	for _, m := range g.members {
		reg := m.Find(c.Register)
		if reg == nil {
			continue
		}
		into := c
		for _, v := range reg.Live {
			if standing, _, _ := b.n.store.Author(v.ID.Log); v.Source == b.source && standing.Certificate.Person == b.cert.Person {
				into.Replaces = append(into.Replaces, v.ID)
			}
		}
		if len(into.Replaces) > 0 {
			out[m.ID] = []entry.Change{into}
		}
	}
	if len(out) == 0 {
		out[home] = []entry.Change{c}
	}
	return out
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
