package node

import (
	"bytes"

	"plumbline/node/importer"
	"plumbline/node/record"
	"plumbline/sync/entry"
)

// Rows that give the id of their record come from a list that was exported, and
// were edited since or not. Only what was edited is to be written; what a table
// can't tell apart from that is told instead of guessed.

// standingTexts tells what an export shows of a record's fields: a cell that says the
// same was not edited.
func (r *reader) standingTexts() func(string, record.Register) []string {
	var last string
	var g group
	return func(text string, reg record.Register) []string {
		if text != last {
			if len(r.rows) > maxReadRows {
				clear(r.rows)
			}
			last, g = text, group{}
			if id, err := entry.ParseRecordID(text); err == nil {
				g, _ = r.group(id)
			}
		}
		if g.union == nil || g.leader.Kind() != reg.Kind.Number {
			return nil
		}
		have := g.union.Find(reg.Address())
		if have == nil {
			return nil
		}
		var texts []string
		for _, v := range have.Live {
			if v.Op == entry.OpValue {
				texts = append(texts, r.text(g.union, reg, record.Value{Op: v.Op, Bytes: v.Data}))
			}
		}
		return texts
	}
}

// given finds the record of a row by the id that it gives. What isn't here is entered
// under this very id where the row says all that it is known by: it is one with the
// other one's once the laptops meet.
func (b *importing) given(p importer.Proposal) (entry.RecordID, error) {
	id, err := entry.ParseRecordID(p.Record)
	if err == nil && id.Kind() == p.Kind && (b.known(id) || p.Complete && id.Class() == entry.Shared) {
		b.whole[naturalKey{p.Kind, p.NaturalKey}] = true
		return id, b.err
	}
	kind := kindOr(p.Kind, "record")
	if err != nil {
		return "", refuse(ErrNotFound, "no id of a %s, as an export writes it; leave the column out if it holds something else", kind)
	}
	elsewhere := ""
	if id.Kind() == p.Kind && id.Class() == entry.Shared {
		elsewhere = ", or elsewhere if it has the columns that name them"
	}
	return "", refuse(ErrNotFound, "no %s has this id here; a list that was exported can be read where its records are%s", kind, elsewhere)
}

// about is who speaks for what a row is about, and whether it is about all of that:
// it was given its record, or matched.
func (b *importing) about(k naturalKey) (leader entry.RecordID, whole bool) {
	if to, ok := b.matched[k]; ok {
		return b.groups.Leader(to), true
	}
	return b.groups.Leader(b.ids[k]), b.whole[k]
}

// target is what a row is about: the record of its natural key alone, or, if it was
// given its record or matched, all that is one with that.
func (b *importing) target(p importer.Proposal, id entry.RecordID) (group, bool) {
	if leader, whole := b.about(naturalKey{p.Kind, p.NaturalKey}); whole {
		g, ok := b.group(leader)
		if !ok {
			g.leader = id
		}
		return g, ok
	}
	have, ok := b.row(id)
	return group{leader: id, members: []row{have}, union: have.Record}, ok
}

// before says in which line the same record came already, under another natural key:
// by its id in one row, by its name in another. Two ids may have become one since the
// list was exported.
func (b *importing) before(p importer.Proposal, id entry.RecordID) (line int, twice bool) {
	if p.Kind != record.Prospect && p.Kind != record.Game && p.Kind != b.withIDs || p.Mention {
		return 0, false
	}
	if leader, whole := b.about(naturalKey{p.Kind, p.NaturalKey}); whole {
		id = leader
	}
	if line, twice = b.lines[id]; !twice {
		b.lines[id] = p.Line
	}
	given := b.saved.joined.alsoGiven(p, id, !twice)
	return line, twice && !given
}

// isMeasured reports whether a prospect who was given, or is joined, has just this number already,
// from whichever list. The natural keys of numbers hold how their prospect was named.
func (b *importing) isMeasured(p importer.Proposal) bool {
	var of naturalKey
	said := map[entry.Register][]byte{}
	for _, f := range p.Fields {
		if f.IsRef() {
			of = naturalKey{f.RefKind, f.RefKey}
			continue
		}
		said[f.Register.Address()] = f.Value.Bytes
	}
	leader, whole := b.about(of)
	if !whole && !b.groups.Joined(leader) {
		return false
	}
	for _, member := range b.groups.Members(leader) {
		rows, err := b.n.store.Referring(b.ctx, member, record.Measurement)
		if err != nil {
			b.fail(err)
		}
		for _, row := range rows {
			if says(row, said) {
				return true
			}
		}
	}
	return false
}

// says reports whether a record shows just these values.
func says(have row, values map[entry.Register][]byte) bool {
	for at, value := range values {
		reg := have.Find(at)
		if reg == nil {
			return false
		}
		if v, ok := reg.Shown(); !ok || v.Op != entry.OpValue || !bytes.Equal(v.Data, value) {
			return false
		}
	}
	return true
}
