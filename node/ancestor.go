package node

import (
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// ancestor finds what the values of a conflict were before they went apart.
// Nothing is replaced across records: of joined ones, it is looked for in one
// where all of the values stand. What was erased is not shown again, so nothing
// before it is found either.
func (r *reader) ancestor(g group, union *merge.Register) *Value {
	for _, m := range g.members {
		have := m.Find(union.Register)
		if have == nil || !have.Covers(union) {
			continue
		}
		if v, ok := have.Ancestor(r.applied(m.ID)); ok {
			known, readable := register(g.leader, union.Register)
			view := r.value(g, known, readable, v)
			view.Record = m.ID
			return &view
		}
	}
	return nil
}

// applied reads the writes that count on a record.
func (r *reader) applied(id entry.RecordID) []merge.Write {
	if writes, ok := r.writes[id]; ok {
		return writes
	}
	history, err := r.n.store.History(r.ctx, id)
	if err != nil {
		r.fail(err)
	}
	var writes []merge.Write
	for _, e := range history {
		if e.Status == merge.Applied {
			writes = append(writes, merge.Write{Origin: merge.Origin{ID: e.ID, Lamport: e.Header.Lamport, Wall: e.Header.Wall}, Body: e.Body})
		}
	}
	r.writes[id] = writes
	return writes
}
