package merge_test

import (
	"slices"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// says writes a verdict on two records being one.
func (l *line) says(verdict []byte, a, b entry.RecordID, replaces ...*fact) *fact {
	c := entry.Change{Register: reg(merge.SameVerdict), Op: entry.OpValue, Value: verdict, Replaces: ids(replaces)}
	return l.write(entry.SameAsID(a, b), c, refer(merge.SameFirst, a), refer(merge.SameSecond, b))
}

func (lap *laptop) joined(a, b entry.RecordID) bool {
	g := lap.groups()
	return g.Leader(a) == g.Leader(b)
}

func TestRule18OnlyAnUndisputedYesJoins(t *testing.T) {
	p, q := shared(1), shared(2)
	for name, c := range map[string]struct {
		write func(a, b *line)
		want  bool
	}{
		"nothing said":              {func(a, b *line) {}, false},
		"yes":                       {func(a, b *line) { a.says(merge.Yes, p, q) }, true},
		"yes, named the other way":  {func(a, b *line) { a.says(merge.Yes, q, p) }, true},
		"no":                        {func(a, b *line) { a.says(merge.No, p, q) }, false},
		"yes and yes":               {func(a, b *line) { a.says(merge.Yes, p, q); b.says(merge.Yes, q, p) }, true},
		"yes and no at one time":    {func(a, b *line) { a.says(merge.Yes, p, q); b.says(merge.No, p, q) }, false},
		"no and yes at one time":    {func(a, b *line) { a.says(merge.No, p, q); b.says(merge.Yes, p, q) }, false},
		"no, answered with yes":     {func(a, b *line) { b.says(merge.Yes, p, q, a.says(merge.No, p, q)) }, true},
		"yes, answered with no":     {func(a, b *line) { b.says(merge.No, p, q, a.says(merge.Yes, p, q)) }, false},
		"a verdict that is newer":   {func(a, b *line) { a.says([]byte{2}, p, q) }, false},
		"yes, retired":              {func(a, b *line) { a.retire(entry.SameAsID(p, q), a.says(merge.Yes, p, q)) }, true},
		"a yes about other records": {func(a, b *line) { a.write(entry.SameAsID(p, q), yes(), refer(2, p), refer(3, shared(9))) }, false},
		"a yes about nothing":       {func(a, b *line) { a.write(entry.SameAsID(p, q), yes()) }, false},
		"a yes that is a reference": {func(a, b *line) {
			c := refer(merge.SameVerdict, entry.RecordID(merge.Yes))
			a.write(entry.SameAsID(p, q), c, refer(merge.SameFirst, p), refer(merge.SameSecond, q))
		}, false},
	} {
		w := newWorld(1)
		c.write(w.scout(w.root, 1), w.scout(w.root, 1))
		lap := w.all()
		check(t, name, lap.joined(p, q), c.want)
		check(t, name+": joined to another", lap.joined(p, shared(9)), false)
		check(t, name+": visibility of the statement", lap.visibility(entry.SameAsID(p, q)), merge.Visible)
	}
}

func yes() entry.Change { return value(merge.SameVerdict, string(merge.Yes)) }

func TestRule18AGroupIsAConnectedComponent(t *testing.T) {
	w := newWorld(1)
	a := w.scout(w.root, 1)
	p, q, r, other := shared(1), shared(2), shared(3), shared(4)
	a.write(p, value(1, "x"))
	a.says(merge.Yes, r, q)
	a.says(merge.Yes, q, p)
	a.retire(p, a.at) // the statement refers to it, so it has to have been read too
	lap := w.all()
	g := lap.groups()
	for _, id := range []entry.RecordID{p, q, r} {
		check(t, "who speaks", g.Leader(id), p)
	}
	check(t, "visibility of the one who speaks", lap.visibility(p), merge.Hidden)
	check(t, "members", len(g.Members(p)), 3)
	check(t, "the first member", g.Members(p)[0], p)
	check(t, "who speaks for another", g.Leader(other), other)
	check(t, "members of another", len(g.Members(other)), 1)
}

// A no inside a component doesn't part it: there is another way round. It is
// listed until a person says no on every pair across.
func TestRule18ANoInsideAGroupIsListed(t *testing.T) {
	w := newWorld(1)
	a, b := w.scout(w.root, 1), w.scout(w.root, 1)
	p, q, r := shared(1), shared(2), shared(3)
	pq, qr := a.says(merge.Yes, p, q), a.says(merge.Yes, q, r)
	b.says(merge.No, p, r)
	lap := w.all()
	check(t, "joined", lap.joined(p, r), true)
	check(t, "torn pairs", len(lap.groups().Torn), 1)
	torn := lap.groups().Torn[0]
	check(t, "torn pair", [2]entry.RecordID{torn.A, torn.B}, [2]entry.RecordID{p, r})

	b.says(merge.No, p, q, pq)
	lap = w.all()
	check(t, "the group is split", lap.joined(p, q) || lap.joined(p, r), false)
	check(t, "the rest stays", lap.joined(q, r), true)
	check(t, "torn pairs", len(lap.groups().Torn), 0)

	a.says(merge.Yes, p, q, pq) // from a stale screen: the no stays, the pair is disputed
	b.says(merge.No, q, r, qr)
	lap = w.all()
	check(t, "a disputed pair joins nothing", lap.joined(p, q) || lap.joined(q, r), false)
}

// Settling a joined field is one write for each member, and none of them
// replaces anything in another record: apart again, each keeps its own.
func TestRule18SettlingNeverCrossesRecords(t *testing.T) {
	w := newWorld(1)
	a, b := w.scout(w.root, 1), w.scout(w.root, 1)
	p, q := shared(1), shared(2)
	onP, onQ := a.write(p, value(1, "6-2")), b.write(q, value(1, "6-3"))
	said := a.says(merge.Yes, p, q)
	union := func(lap *laptop) *merge.Record { return merge.Union(p, []*merge.Record{lap.record(p), lap.record(q)}) }
	lap := w.all()
	check(t, "conflict in the union", len(union(lap).Conflicts()), 1)
	check(t, "shown in the union", string(union(lap).Find(reg(1)).Live[0].Data), "6-3")
	check(t, "conflicts in the records", lap.conflicts(p)+lap.conflicts(q), 0)

	settled := []*fact{a.write(p, value(1, "6-3", onP)), a.write(q, value(1, "6-3", onQ))}
	lap = w.all()
	check(t, "conflict once settled", len(union(lap).Conflicts()), 0)

	b.says(merge.No, p, q, said)
	b.write(p, value(1, "6-2", settled[0])) // what the settling had replaced, taken back
	lap = w.all()
	check(t, "joined", lap.joined(p, q), false)
	lap.shows(t, "one", p, "6-2")
	lap.shows(t, "the other", q, "6-3")

	b.write(q, value(1, "6-4", settled[0])) // names a value of the other record
	w.all().shows(t, "replacing across records", q, "6-4", "6-3")
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
	a := w.scout(w.root, 1)
	p, q, r := shared(1), shared(2), shared(3)
	a.says(merge.Yes, p, q)
	a.says(merge.Yes, q, r)
	a.says([]byte{2}, p, r)
	g := w.all().groups()
	check(t, "torn pairs", len(g.Torn), 0)
	leaders := g.Leaders()
	check(t, "groups", len(leaders), 1)
	check(t, "who speaks", leaders[0], p)
}

func TestRule18TheUnionLeavesTheRecordsAlone(t *testing.T) {
	w := newWorld(1)
	a := w.scout(w.root, 1)
	a.write(shared(1), value(1, "x"), value(2, "y"))
	a.write(shared(2), value(1, "z"))
	lap := w.all()
	want := lap.stored()
	union := merge.Union(shared(1), []*merge.Record{lap.record(shared(1)), lap.record(shared(2))})
	check(t, "registers", len(union.Registers), 2)
	check(t, "values", len(union.Find(reg(1)).Live), 2)
	check(t, "stored bytes", lap.stored(), want)
}
