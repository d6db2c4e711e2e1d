package node

import (
	"cmp"
	"slices"

	"plumbline/node/record"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// verdict is where a statement about two records says whether they are one.
var verdict = record.Must(record.SameAs, "verdict")

// across returns the records of a's group that b is held against: all but b.
func (r *reader) across(a, b entry.RecordID) []entry.RecordID {
	members := slices.Clone(r.groups.Members(r.groups.Leader(a)))
	return slices.DeleteFunc(members, func(id entry.RecordID) bool { return id == b })
}

// statements gathers what was said of a record and each of the others.
func (r *reader) statements(others []entry.RecordID, b entry.RecordID) group {
	g := group{leader: entry.SameAsID(others[0], b)}
	var records []*merge.Record
	for _, other := range others {
		if row, ok := r.row(entry.SameAsID(other, b)); ok {
			g.members, records = append(g.members, row), append(records, row.Record)
		}
	}
	g.union = merge.Union(g.leader, records)
	return g
}

// said returns what stands of the statements that taking b out of a's group, or
// joining the two, would replace.
func (r *reader) said(a, b entry.RecordID) []Value {
	g := r.statements(r.across(a, b), b)
	have := g.union.Find(verdict.Address())
	if have == nil {
		return nil
	}
	return r.field(g, have).Values
}

// ownName is a record's own name: the members of a group share one title.
func (r *reader) ownName(id entry.RecordID) string {
	if id.Kind() != record.Prospect {
		return r.title(id)
	}
	return cmp.Or(r.shownText(id, "name"), r.title(id))
}
