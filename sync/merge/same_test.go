package merge_test

import (
	"slices"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

func TestRule18OnlyAnUndisputedYesJoins(t *testing.T) {
	p, q := shared(1), shared(2)
	for name, c := range map[string]struct {
		write func(a, b *line)
		want  bool
	}{
		"nothing said":              {func(a, b *line) {}, false},
		"yes":                       {func(a, b *line) { a.Same(merge.Yes, p, q) }, true},
		"yes, named the other way":  {func(a, b *line) { a.Same(merge.Yes, q, p) }, true},
		"no":                        {func(a, b *line) { a.Same(merge.No, p, q) }, false},
		"yes and yes":               {func(a, b *line) { a.Same(merge.Yes, p, q); b.Same(merge.Yes, q, p) }, true},
		"yes and no at one time":    {func(a, b *line) { a.Same(merge.Yes, p, q); b.Same(merge.No, p, q) }, false},
		"no and yes at one time":    {func(a, b *line) { a.Same(merge.No, p, q); b.Same(merge.Yes, p, q) }, false},
		"no, answered with yes":     {func(a, b *line) { b.Same(merge.Yes, p, q, a.Same(merge.No, p, q)) }, true},
		"yes, answered with no":     {func(a, b *line) { b.Same(merge.No, p, q, a.Same(merge.Yes, p, q)) }, false},
		"a verdict that is newer":   {func(a, b *line) { a.Same([]byte{2}, p, q) }, false},
		"yes, retired":              {func(a, b *line) { a.Retire(entry.SameAsID(p, q), a.Same(merge.Yes, p, q)) }, true},
		"a yes about other records": {func(a, b *line) { a.Write(entry.SameAsID(p, q), yes(), refer(2, p), refer(3, shared(9))) }, false},
		"a yes about nothing":       {func(a, b *line) { a.Write(entry.SameAsID(p, q), yes()) }, false},
		"a yes that is a reference": {func(a, b *line) {
			c := refer(merge.SameVerdict, entry.RecordID(merge.Yes))
			a.Write(entry.SameAsID(p, q), c, refer(merge.SameFirst, p), refer(merge.SameSecond, q))
		}, false},
	} {
		w := newWorld(1)
		c.write(w.Scout(w.Root, 1), w.Scout(w.Root, 1))
		lap := all(w)
		check(t, name, lap.joined(p, q), c.want)
		check(t, name+": joined to another", lap.joined(p, shared(9)), false)
		check(t, name+": visibility of the statement", lap.Visibility(entry.SameAsID(p, q)), merge.Visible)
	}
}

func yes() entry.Change { return value(merge.SameVerdict, string(merge.Yes)) }

func TestRule18AGroupIsAConnectedComponent(t *testing.T) {
	w := newWorld(1)
	a := w.Scout(w.Root, 1)
	p, q, r, other := shared(1), shared(2), shared(3), shared(4)
	a.Write(p, value(1, "x"))
	a.Same(merge.Yes, r, q)
	a.Same(merge.Yes, q, p)
	a.Retire(p, a.At) // the statement refers to it, so it has to have been read too
	lap := all(w)
	g := lap.Groups()
	for _, id := range []entry.RecordID{p, q, r} {
		check(t, "who speaks", g.Leader(id), p)
	}
	check(t, "visibility of the one who speaks", lap.Visibility(p), merge.Hidden)
	check(t, "members", len(g.Members(p)), 3)
	check(t, "the first member", g.Members(p)[0], p)
	check(t, "who speaks for another", g.Leader(other), other)
	check(t, "members of another", len(g.Members(other)), 1)
}

// A no inside a component doesn't part it: there is another way round. It is
// listed until a person says no on every pair across.
func TestRule18ANoInsideAGroupIsListed(t *testing.T) {
	w := newWorld(1)
	a, b := w.Scout(w.Root, 1), w.Scout(w.Root, 1)
	p, q, r := shared(1), shared(2), shared(3)
	pq, qr := a.Same(merge.Yes, p, q), a.Same(merge.Yes, q, r)
	b.Same(merge.No, p, r)
	lap := all(w)
	check(t, "joined", lap.joined(p, r), true)
	check(t, "torn pairs", len(lap.Groups().Torn), 1)
	torn := lap.Groups().Torn[0]
	check(t, "torn pair", [2]entry.RecordID{torn.A, torn.B}, [2]entry.RecordID{p, r})

	b.Same(merge.No, p, q, pq)
	lap = all(w)
	check(t, "the group is split", lap.joined(p, q) || lap.joined(p, r), false)
	check(t, "the rest stays", lap.joined(q, r), true)
	check(t, "torn pairs", len(lap.Groups().Torn), 0)

	a.Same(merge.Yes, p, q, pq) // from a stale screen: the no stays, the pair is disputed
	b.Same(merge.No, q, r, qr)
	lap = all(w)
	check(t, "a disputed pair joins nothing", lap.joined(p, q) || lap.joined(q, r), false)
}

// Settling a joined field is one write for each member, and none of them
// replaces anything in another record: apart again, each keeps its own.
func TestRule18SettlingNeverCrossesRecords(t *testing.T) {
	w := newWorld(1)
	a, b := w.Scout(w.Root, 1), w.Scout(w.Root, 1)
	p, q := shared(1), shared(2)
	onP, onQ := a.Write(p, value(1, "6-2")), b.Write(q, value(1, "6-3"))
	said := a.Same(merge.Yes, p, q)
	union := func(lap laptop) *merge.Record { return merge.Union(p, []*merge.Record{lap.Record(p), lap.Record(q)}) }
	lap := all(w)
	check(t, "conflict in the union", len(union(lap).Conflicts()), 1)
	check(t, "shown in the union", string(union(lap).Find(reg(1)).Live[0].Data), "6-3")
	check(t, "conflicts in the records", lap.conflicts(p)+lap.conflicts(q), 0)

	settled := []*fact{a.Write(p, value(1, "6-3", onP)), a.Write(q, value(1, "6-3", onQ))}
	lap = all(w)
	check(t, "conflict once settled", len(union(lap).Conflicts()), 0)

	b.Same(merge.No, p, q, said)
	b.Write(p, value(1, "6-2", settled[0])) // what the settling had replaced, taken back
	lap = all(w)
	check(t, "joined", lap.joined(p, q), false)
	lap.shows(t, "one", p, "6-2")
	lap.shows(t, "the other", q, "6-3")

	b.Write(q, value(1, "6-4", settled[0])) // names a value of the other record
	all(w).shows(t, "replacing across records", q, "6-4", "6-3")
}

func TestRule18GroupsComeOutTheSameInAnyOrder(t *testing.T) {
	p, q, r, s := shared(1), shared(2), shared(3), shared(4)
	pairs := []merge.Pair{
		{A: p, B: q, Same: true}, {A: q, B: r, Same: true}, {A: r, B: s, Same: true}, {A: p, B: r, Apart: true}, {A: p, B: s, Apart: true},
	}
	want := merge.Join(pairs)
	slices.Reverse(pairs)
	got := merge.Join(pairs)
	check(t, "torn pairs", slices.Equal(got.Torn, want.Torn), true)
	check(t, "members", slices.Equal(got.Members(p), want.Members(p)), true)
}

// A verdict that only a newer program knows is neither yes nor no.
func TestRule18ANewerVerdictIsNoNo(t *testing.T) {
	w := newWorld(1)
	a := w.Scout(w.Root, 1)
	p, q, r := shared(1), shared(2), shared(3)
	a.Same(merge.Yes, p, q)
	a.Same(merge.Yes, q, r)
	a.Same([]byte{2}, p, r)
	g := all(w).Groups()
	check(t, "torn pairs", len(g.Torn), 0)
	leaders := g.Leaders()
	check(t, "groups", len(leaders), 1)
	check(t, "who speaks", leaders[0], p)
}

func TestRule18TheUnionLeavesTheRecordsAlone(t *testing.T) {
	w := newWorld(1)
	a := w.Scout(w.Root, 1)
	a.Write(shared(1), value(1, "x"), value(2, "y"))
	a.Write(shared(2), value(1, "z"))
	lap := all(w)
	want := lap.stored()
	union := merge.Union(shared(1), []*merge.Record{lap.Record(shared(1)), lap.Record(shared(2))})
	check(t, "registers", len(union.Registers), 2)
	check(t, "values", len(union.Find(reg(1)).Live), 2)
	check(t, "stored bytes", lap.stored(), want)
}
