package node

import (
	"context"
	"errors"
	"slices"

	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// row is a record as the storage holds it.
type row = storage.Row

// reader answers one question. It remembers the names that it has looked up,
// and the first failure, so that the code that shows things reads plainly.
type reader struct {
	n      *Node
	ctx    context.Context
	groups *merge.Groups
	rows   map[entry.RecordID]storage.Row
	titles map[entry.RecordID]string
	// numbers are those of reps: they are compared again and again.
	numbers map[entry.RecordID]int
	authors map[entry.LogID]Author           // each value has one
	writes  map[entry.RecordID][]merge.Write // what was written to records in conflict
	// uncounted are the names that entries give which don't count, where they are shown.
	uncounted map[entry.RecordID]string
	age       uint64 // of the remembered titles when reading began
	err       error
}

func (n *Node) reader(ctx context.Context) *reader {
	return &reader{
		n: n, ctx: ctx, age: n.made.current(), groups: n.store.Groups(), rows: map[entry.RecordID]storage.Row{}, titles: map[entry.RecordID]string{},
		numbers: map[entry.RecordID]int{}, authors: map[entry.LogID]Author{}, writes: map[entry.RecordID][]merge.Write{},
	}
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

func (g group) has(id entry.RecordID) bool {
	return slices.ContainsFunc(g.members, func(m storage.Row) bool { return m.ID == id })
}
