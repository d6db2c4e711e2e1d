package node

import (
	"errors"
	"fmt"
	"slices"

	"plumbline/node/record"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// change writes fields of a record that exists. A write replaces the values
// that its writer saw, no others: so a field that has values is refused
// unless they are named.
func (w *writer) change(g group, sets []Set) error {
	k, ok := record.Stored().KindOf(g.leader)
	if !ok {
		return refuse(ErrNewer, "this record is of a kind that only a newer plumbline knows: update this one to change it")
	}
	if err := w.mayWrite(g); err != nil {
		return err
	}
	sets = measured(k, sets, g.union)
	if err := errors.Join(w.misread(k, sets, g.union), w.unfiled(k, sets, g.union)); err != nil {
		return err
	}
	for _, set := range sets {
		reg, v, err := w.read(k, set)
		if err != nil {
			return err
		}
		if err := w.once(g.leader, reg); err != nil {
			return err
		}
		have := g.union.Find(reg.Address())
		if have != nil && have.Conflict() {
			return w.disputed(g, reg, have)
		}
		if same(have, v) {
			continue
		}
		if err := w.allowed(reg, v); err != nil {
			return err
		}
		seen, err := w.seen(g, reg, have, set.Seen)
		if err != nil {
			return err
		}
		if err := w.put(g, reg, v, seen); err != nil {
			return err
		}
	}
	return nil
}

// same reports whether the register holds just this value.
func same(have *merge.Register, v record.Value) bool {
	if have == nil || len(have.Live) == 0 {
		return v.Op == entry.OpClear
	}
	shown := have.Live[0]
	return shown.Op == v.Op && slices.Equal(shown.Data, v.Bytes)
}

// seen reads the ids that the writer names. Without any, a field must be empty.
func (w *writer) seen(g group, reg record.Register, have *merge.Register, named []string) ([]entry.ID, error) {
	ids, err := w.valueIDs(g, reg.Address(), named)
	if err != nil {
		return nil, err
	}
	if len(ids) > 0 || have == nil {
		return withEquals(have, ids), nil
	}
	for _, v := range have.Live {
		if v.Op != entry.OpClear {
			return nil, w.unseen(fmt.Sprintf("%s of %s has a value that this write doesn't name", reg.Path(), w.title(g.leader)), g, have)
		}
		// A cleared field shows nothing, and that is what the writer saw.
		ids = append(ids, v.ID)
	}
	return ids, nil
}

// withEquals adds the live values that are equal to a named one: several people
// who wrote the same are one line on a screen, and whoever saw it saw them all.
func withEquals(have *merge.Register, ids []entry.ID) []entry.ID {
	if have == nil {
		return ids
	}
	all := slices.Clone(ids)
	for _, v := range have.Live {
		if !slices.Contains(ids, v.ID) {
			continue
		}
		for _, other := range have.Live {
			if other.Op == v.Op && slices.Equal(other.Data, v.Data) && !slices.Contains(all, other.ID) {
				all = append(all, other.ID)
			}
		}
	}
	return all
}

// put drafts the write into each member that holds one of the replaced values,
// since nothing replaces across records; into the first if none does.
func (w *writer) put(g group, reg record.Register, v record.Value, seen []entry.ID) error {
	written := false
	for _, m := range g.members {
		replaces := w.standing(m, reg, seen)
		if len(replaces) == 0 {
			continue
		}
		written = true
		if err := w.draft(m.ID, "", entry.Change{Register: reg.Address(), Op: v.Op, Value: v.Bytes, Replaces: replaces}); err != nil {
			return err
		}
	}
	if written {
		return nil
	}
	return w.draft(g.members[0].ID, "", entry.Change{Register: reg.Address(), Op: v.Op, Value: v.Bytes})
}

// standing returns which of the ids a member wrote or has live there.
func (w *writer) standing(m row, reg record.Register, ids []entry.ID) []entry.ID {
	return slices.DeleteFunc(slices.Clone(ids), func(id entry.ID) bool {
		if have := m.Find(reg.Address()); have != nil && slices.ContainsFunc(have.Live, func(v merge.Value) bool { return v.ID == id }) {
			return false
		}
		held, ok, err := w.n.store.Entry(w.ctx, id)
		if err != nil {
			w.fail(err)
		}
		return !ok || held.Header.Record != m.ID
	})
}
