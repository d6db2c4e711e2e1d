package node

import (
	"context"
	"errors"
	"time"

	"plumbline/node/record"
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
	if err == nil {
		err = w.mayWrite(g)
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
