package node

import (
	"context"
	"errors"
	"time"

	"plumbline/node/record"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// File files an evaluation as of today. What is written after that shows as a
// revision. Whoever files one that was filed before names the days seen there.
func (n *Node) File(ctx context.Context, ref string, seen ...string) (Record, error) {
	w, err := n.begin(ctx)
	if err != nil {
		return Record{}, err
	}
	g, err := w.find(record.Evaluation, ref)
	if errors.Is(err, ErrNotFound) {
		err = refuse(ErrNotFound, "%v; an evaluation is named by its id, as plumbline list evaluation --ids shows it", err)
	}
	if err != nil {
		return Record{}, err
	}
	if _, ok := shownValue(g.union, record.Must(record.Evaluation, "overall")); !ok {
		return Record{}, refuse(ErrInvalid, "this evaluation has no overall grade yet: set overall=1 to 9, then file it")
	}
	reg := record.Must(record.Evaluation, "filed")
	v, err := reg.Parse(n.cfg.Now().Format(time.DateOnly))
	if err != nil {
		return Record{}, err
	}
	have := g.union.Find(reg.Address())
	if have != nil && !have.Conflict() && same(have, v) {
		return w.done(g.leader)
	}
	ids, err := w.seen(g, reg, have, seen)
	if err != nil {
		return Record{}, err
	}
	if err := w.put(g, reg, v, ids); err != nil {
		return Record{}, err
	}
	return w.done(g.leader)
}

// Retire hides a record, as it has been read on this laptop: whatever is
// written to it elsewhere meanwhile keeps it visible, as a dispute.
func (n *Node) Retire(ctx context.Context, ref string) (Record, error) {
	return n.mark(ctx, ref, func(id entry.RecordID) (entry.Body, error) {
		heads, err := n.store.Heads(ctx, id)
		return entry.Body{Kind: entry.KindRetirement, Retirement: &heads}, err
	})
}

// Keep answers the retirements of a record: it stays.
func (n *Node) Keep(ctx context.Context, ref string) (Record, error) {
	return n.mark(ctx, ref, func(entry.RecordID) (entry.Body, error) {
		return entry.Body{Kind: entry.KindKeep}, nil
	})
}

// mark writes an entry that is no write to a register into each member.
func (n *Node) mark(ctx context.Context, ref string, body func(entry.RecordID) (entry.Body, error)) (Record, error) {
	w, err := n.begin(ctx)
	if err != nil {
		return Record{}, err
	}
	g, err := w.find(0, ref)
	if err != nil {
		return Record{}, err
	}
	if g.leader.Kind() == record.SameAs {
		return Record{}, refuse(ErrInvalid, "a statement that two records are one can't be retired: say that they are apart, with plumbline same --apart")
	}
	for _, m := range g.members {
		if !merge.MayWrite(w.cert, m.ID) {
			return Record{}, w.noRight(m.ID)
		}
		b, err := body(m.ID)
		if err != nil {
			return Record{}, err
		}
		w.drafts = append(w.drafts, Draft{Record: m.ID, Body: b})
	}
	return w.done(g.leader)
}
