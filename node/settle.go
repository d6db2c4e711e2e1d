package node

import (
	"context"
	"errors"

	"plumbline/node/record"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Settle ends a conflict: it writes a value that replaces those that the settler
// names as seen, into every visible record of a group. Each of them has the
// answer then, also if somebody takes them apart one day. What wasn't named
// stays, as a conflict still.
func (n *Node) Settle(ctx context.Context, s Settlement) (Record, error) {
	w, err := n.begin(ctx)
	if err != nil {
		return Record{}, err
	}
	g, err := w.find(0, s.Record)
	if err != nil {
		return Record{}, err
	}
	k, ok := record.Stored().KindOf(g.leader)
	if !ok {
		return Record{}, refuse(ErrNewer, "this record is of a kind that only a newer plumbline knows: update this one to settle it")
	}
	if err := w.mayWrite(g); err != nil {
		return Record{}, err
	}
	reg, err := k.Register(s.Set.Field)
	if err != nil {
		return Record{}, refuse(ErrInvalid, "%v", err)
	}
	have := g.union.Find(reg.Address())
	if have == nil || len(have.Live) == 0 {
		return Record{}, refuse(ErrInvalid, "%s of %s has no value to settle; plumbline conflicts lists what has", reg.Path(), w.title(g.leader))
	}
	v, err := w.chosen(g, have, k, s)
	if err != nil {
		return Record{}, err
	}
	seen, err := w.seen(g, reg, have, s.Set.Seen)
	if err != nil {
		return Record{}, err
	}
	for _, m := range g.members {
		change := entry.Change{Register: reg.Address(), Op: v.Op, Value: v.Bytes, Replaces: w.standing(m, reg, seen)}
		if err := w.draft(m.ID, "", change); err != nil {
			return Record{}, err
		}
	}
	return w.done(g.leader)
}

// chosen returns the value to settle on: one of those that stand, or a new one.
func (w *writer) chosen(g group, have *merge.Register, k *record.Kind, s Settlement) (record.Value, error) {
	if s.Choose == "" {
		set := measured(k, []Set{s.Set}, g.union)[:1]
		if err := errors.Join(w.misread(k, set, g.union), w.unfiled(k, set, g.union)); err != nil {
			return record.Value{}, err
		}
		reg, v, err := w.read(k, set[0])
		if err != nil {
			return v, err
		}
		return v, w.allowed(reg, v)
	}
	id, err := w.valueID(g, have.Register, s.Choose)
	if err != nil {
		return record.Value{}, err
	}
	for _, v := range have.Live {
		if v.ID == id {
			return record.Value{Op: v.Op, Bytes: v.Data}, nil
		}
	}
	return record.Value{}, refuse(ErrUnseen, "the value %s was replaced meanwhile: look at the field again with plumbline show %s", s.Choose, g.leader)
}
