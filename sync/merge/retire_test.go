package merge_test

import (
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// A prospect, a look at it and a rep of that look, by three writers; what each
// case adds decides whether retiring the prospect hides it.
type retiring struct {
	*world
	a, b            *line
	p, look, rep    entry.RecordID
	onP, onL, onRep *fact
}

func newRetiring() *retiring {
	r := &retiring{world: newWorld(1), p: shared(1)}
	r.a, r.b = r.scout(r.root, 1), r.scout(r.root, 1)
	c := r.scout(r.root, 1)
	r.look, r.rep = owned(kindLook, r.b, 1), owned(kindRep, c, 1)
	r.onP = r.a.write(r.p, value(1, "x"))
	r.onL = r.b.write(r.look, refer(1, r.p))
	r.onRep = c.write(r.rep, refer(1, r.look))
	return r
}

func TestRule17ARetirementHidesWhatItsAuthorHadRead(t *testing.T) {
	for name, c := range map[string]struct {
		write func(r *retiring)
		want  merge.Visibility
	}{
		"nothing retired":   {func(r *retiring) {}, merge.Visible},
		"all of it read":    {func(r *retiring) { r.a.retire(r.p, r.onP, r.onL, r.onRep) }, merge.Hidden},
		"a look not read":   {func(r *retiring) { r.a.retire(r.p, r.onP, r.onRep) }, merge.Disputed},
		"a rep not read":    {func(r *retiring) { r.a.retire(r.p, r.onP, r.onL) }, merge.Disputed},
		"an edit not read":  {func(r *retiring) { r.edit(); r.a.retire(r.p, r.onP, r.onL, r.onRep) }, merge.Disputed},
		"an edit read":      {func(r *retiring) { r.a.retire(r.p, r.onP, r.edit(), r.onRep) }, merge.Hidden},
		"edited afterwards": {func(r *retiring) { r.a.retire(r.p, r.onP, r.onL, r.onRep); r.edit() }, merge.Disputed},
		"a look that refers to another prospect by now": {func(r *retiring) {
			moved := refer(1, shared(2))
			moved.Replaces = []entry.ID{r.onL.id}
			r.b.write(r.look, moved)
			r.a.retire(r.p, r.onP)
		}, merge.Hidden},
		"two that cover it together": {func(r *retiring) {
			r.a.retire(r.p, r.onP, r.onL)
			r.b.retire(r.p, r.onRep)
		}, merge.Hidden},
		"a keep that hadn't been seen": {func(r *retiring) {
			r.a.retire(r.p, r.onP, r.onL, r.onRep)
			r.b.keep(r.p)
		}, merge.Visible},
		"a keep that had been seen": {func(r *retiring) {
			r.a.retire(r.p, r.onP, r.b.keep(r.p), r.onRep)
		}, merge.Hidden},
		"a keep between two": {func(r *retiring) {
			r.a.retire(r.p, r.onP, r.onL, r.onRep)
			kept := r.b.keep(r.p)
			r.a.retire(r.p, r.onP, kept, r.onRep)
		}, merge.Hidden},
		"a keep without a retirement": {func(r *retiring) { r.b.keep(r.p) }, merge.Visible},
		"one branch of a fork read": {func(r *retiring) {
			clone := r.b.fork(r.onL)
			read := r.b.write(r.p, value(1, "left"))
			clone.write(r.p, value(1, "right"))
			r.a.retire(r.p, r.onP, read, r.onRep)
		}, merge.Disputed},
		"both branches of a fork read": {func(r *retiring) {
			clone := r.b.fork(r.onL)
			r.a.retire(r.p, r.onP, r.b.write(r.p, value(1, "left")), clone.write(r.p, value(1, "right")), r.onRep)
		}, merge.Hidden},
		"an edit not read that is set aside": {func(r *retiring) {
			r.root.cut(r.b.device, entry.BeyondNothing, []*fact{r.onL})
			r.edit()
			r.a.retire(r.p, r.onP, r.onL, r.onRep)
		}, merge.Hidden},
		"a retirement that is set aside": {func(r *retiring) {
			r.root.cut(r.a.device, entry.BeyondNothing, []*fact{r.onP})
			r.a.retire(r.p, r.onP, r.onL, r.onRep)
		}, merge.Visible},
	} {
		r := newRetiring()
		c.write(r)
		check(t, name, r.all().visibility(r.p), c.want)
	}
}

func (r *retiring) edit() *fact { return r.b.write(r.p, value(1, "edited", r.onP)) }

// What was set aside when it was retired had not been read as applied: once it
// counts, it disputes the retirement.
func TestRule17WhatWasSetAsideIsntCovered(t *testing.T) {
	for _, listed := range []bool{true, false} {
		r := newRetiring()
		before := r.b.at
		late := r.edit()
		low := r.root.cut(r.b.device, entry.BeyondNothing, []*fact{before})
		last := r.b.write(r.look, value(2, "x"))
		retirement := entry.Retirement{Heads: ids([]*fact{r.onP, last, r.onRep})}
		if listed {
			retirement.SetAside = []entry.ID{late.id}
		}
		r.a.put(r.p, entry.Body{Kind: entry.KindRetirement, Retirement: &retirement})
		lap := r.all()
		check(t, "with the edit set aside", lap.visibility(r.p), merge.Hidden)
		lap.learn(r.root.cut(r.b.device, entry.BeyondNothing, []*fact{last}, low))
		want := merge.Hidden
		if listed {
			want = merge.Disputed
		}
		check(t, "with the edit accepted", lap.visibility(r.p), want)
	}
}

// Ledger rule 23 for retirements: a head that isn't held covers nothing.
func TestRule23ARetirementsHeadThatIsNotHeldWaits(t *testing.T) {
	r := newRetiring()
	head := r.b.write(r.look, value(2, "x"))
	r.a.retire(r.p, r.onP, head, r.onRep)
	lap := r.read(without(r.facts, head)...)
	check(t, "head not held", lap.visibility(r.p), merge.Disputed)
	lap.learn(head)
	check(t, "head held", lap.visibility(r.p), merge.Hidden)
}

// A retirement is no write: nothing is replaced, and what is live stays so.
func TestRule17ARetirementIsNoWrite(t *testing.T) {
	r := newRetiring()
	before := r.all()
	r.a.retire(r.p, r.onP, r.onL, r.onRep)
	after := r.all()
	after.shows(t, "live", r.p, "x")
	check(t, "state hash", after.hash, before.hash)
	check(t, "the look", after.visibility(r.look), merge.Visible)
}
