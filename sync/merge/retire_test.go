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
	r.a, r.b = r.Scout(r.Root, 1), r.Scout(r.Root, 1)
	c := r.Scout(r.Root, 1)
	r.look, r.rep = r.b.Look(1), c.Rep(1)
	r.onP = r.a.Write(r.p, value(1, "x"))
	r.onL = r.b.Write(r.look, refer(1, r.p))
	r.onRep = c.Write(r.rep, refer(1, r.look))
	return r
}

func TestRule17ARetirementHidesWhatItsAuthorHadRead(t *testing.T) {
	for name, c := range map[string]struct {
		write func(r *retiring)
		want  merge.Visibility
	}{
		"nothing retired":   {func(r *retiring) {}, merge.Visible},
		"all of it read":    {func(r *retiring) { r.a.Retire(r.p, r.onP, r.onL, r.onRep) }, merge.Hidden},
		"a look not read":   {func(r *retiring) { r.a.Retire(r.p, r.onP, r.onRep) }, merge.Disputed},
		"a rep not read":    {func(r *retiring) { r.a.Retire(r.p, r.onP, r.onL) }, merge.Disputed},
		"an edit not read":  {func(r *retiring) { r.edit(); r.a.Retire(r.p, r.onP, r.onL, r.onRep) }, merge.Disputed},
		"an edit read":      {func(r *retiring) { r.a.Retire(r.p, r.onP, r.edit(), r.onRep) }, merge.Hidden},
		"edited afterwards": {func(r *retiring) { r.a.Retire(r.p, r.onP, r.onL, r.onRep); r.edit() }, merge.Disputed},
		"a look that refers to another prospect by now": {func(r *retiring) {
			moved := refer(1, shared(2))
			moved.Replaces = []entry.ID{r.onL.ID}
			r.b.Write(r.look, moved)
			r.a.Retire(r.p, r.onP)
		}, merge.Hidden},
		"two that cover it together": {func(r *retiring) {
			r.a.Retire(r.p, r.onP, r.onL)
			r.b.Retire(r.p, r.onRep)
		}, merge.Hidden},
		"a keep that hadn't been seen": {func(r *retiring) {
			r.a.Retire(r.p, r.onP, r.onL, r.onRep)
			r.b.Keep(r.p)
		}, merge.Visible},
		"a keep that had been seen": {func(r *retiring) {
			r.a.Retire(r.p, r.onP, r.b.Keep(r.p), r.onRep)
		}, merge.Hidden},
		"a keep between two": {func(r *retiring) {
			r.a.Retire(r.p, r.onP, r.onL, r.onRep)
			kept := r.b.Keep(r.p)
			r.a.Retire(r.p, r.onP, kept, r.onRep)
		}, merge.Hidden},
		"a keep without a retirement": {func(r *retiring) { r.b.Keep(r.p) }, merge.Visible},
		"one branch of a fork read": {func(r *retiring) {
			clone := r.b.Fork(r.onL)
			read := r.b.Write(r.p, value(1, "left"))
			clone.Write(r.p, value(1, "right"))
			r.a.Retire(r.p, r.onP, read, r.onRep)
		}, merge.Disputed},
		"both branches of a fork read": {func(r *retiring) {
			clone := r.b.Fork(r.onL)
			r.a.Retire(r.p, r.onP, r.b.Write(r.p, value(1, "left")), clone.Write(r.p, value(1, "right")), r.onRep)
		}, merge.Hidden},
		"an edit not read that is set aside": {func(r *retiring) {
			r.Root.Cut(r.b.Device, entry.BeyondNothing, []*fact{r.onL})
			r.edit()
			r.a.Retire(r.p, r.onP, r.onL, r.onRep)
		}, merge.Hidden},
		"a retirement that is set aside": {func(r *retiring) {
			r.Root.Cut(r.a.Device, entry.BeyondNothing, []*fact{r.onP})
			r.a.Retire(r.p, r.onP, r.onL, r.onRep)
		}, merge.Visible},
	} {
		r := newRetiring()
		c.write(r)
		check(t, name, all(r.world).Visibility(r.p), c.want)
	}
}

func (r *retiring) edit() *fact { return r.b.Write(r.p, value(1, "edited", r.onP)) }

// What was set aside when it was retired had not been read as applied: once it
// counts, it disputes the retirement.
func TestRule17WhatWasSetAsideIsntCovered(t *testing.T) {
	for _, listed := range []bool{true, false} {
		r := newRetiring()
		before := r.b.At
		late := r.edit()
		low := r.Root.Cut(r.b.Device, entry.BeyondNothing, []*fact{before})
		last := r.b.Write(r.look, value(2, "x"))
		retirement := entry.Retirement{Heads: ids([]*fact{r.onP, last, r.onRep})}
		if listed {
			retirement.SetAside = []entry.ID{late.ID}
		}
		r.a.Put(r.p, entry.Body{Kind: entry.KindRetirement, Retirement: &retirement})
		lap := all(r.world)
		check(t, "with the edit set aside", lap.Visibility(r.p), merge.Hidden)
		lap.Learn(r.Root.Cut(r.b.Device, entry.BeyondNothing, []*fact{last}, low))
		want := merge.Hidden
		if listed {
			want = merge.Disputed
		}
		check(t, "with the edit accepted", lap.Visibility(r.p), want)
	}
}

// Ledger rule 23 for retirements: a head that isn't held covers nothing.
func TestRule23ARetirementsHeadThatIsNotHeldWaits(t *testing.T) {
	r := newRetiring()
	head := r.b.Write(r.look, value(2, "x"))
	r.a.Retire(r.p, r.onP, head, r.onRep)
	lap := read(r.world, without(r.Facts, head)...)
	check(t, "head not held", lap.Visibility(r.p), merge.Disputed)
	lap.Learn(head)
	check(t, "head held", lap.Visibility(r.p), merge.Hidden)
}

// A retirement is no write: nothing is replaced, and what is live stays so.
func TestRule17ARetirementIsNoWrite(t *testing.T) {
	r := newRetiring()
	before := all(r.world)
	r.a.Retire(r.p, r.onP, r.onL, r.onRep)
	after := all(r.world)
	after.shows(t, "live", r.p, "x")
	check(t, "state hash", after.Hash, before.Hash)
	check(t, "the look", after.Visibility(r.look), merge.Visible)
}
