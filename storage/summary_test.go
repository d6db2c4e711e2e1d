package storage

import (
	"context"
	"slices"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

func stale(t *testing.T, s *Store) ([]entry.RecordID, Mark) {
	t.Helper()
	ids, mark, err := s.StaleSummaries(context.Background())
	check(t, err)
	return slices.Sorted(slices.Values(ids)), mark
}

// settleAll stores a summary for whatever is stale.
func settleAll(t *testing.T, s *Store) {
	t.Helper()
	ids, mark := stale(t, s)
	summaries := map[entry.RecordID][]byte{}
	for _, id := range ids {
		summaries[id] = []byte("summed up " + id.String())
	}
	check(t, s.PutSummaries(context.Background(), mark, summaries))
	if rest, _ := stale(t, s); len(rest) > 0 {
		t.Fatalf("%d records stay stale", len(rest))
	}
}

// TestSummariesGoStale touches things far below prospects and wants exactly
// those prospects stale that depend on them.
func TestSummariesGoStale(t *testing.T) {
	w := newWorld(9)
	a := w.scout(w.root, 2)
	p, q, r := prospect(1), prospect(2), prospect(3)
	look, rep := owned(kindLook, a, 1), owned(kindRep, a, 1)
	pair := entry.SameAsID(q, r)
	s := w.store(t)
	step := func(what string, write func(), want ...entry.RecordID) {
		t.Helper()
		done := len(w.facts)
		write()
		if done == 4 {
			done = 0
		}
		s.append(t, w.since(done)...)
		if got, _ := stale(t, s); !slices.Equal(got, want) {
			t.Errorf("%s: stale %v, want %v", what, got, want)
		}
		settleAll(t, s)
	}
	for len(w.facts) < 4 {
		a.write(board(1), value(1, "no right"))
	}
	step("three prospects", func() {
		a.write(p, value(1, "elm"))
		a.write(q, value(1, "oak"))
		a.write(r, value(1, "ash"))
	}, p, q, r)
	step("a look at one", func() { a.write(look, refer(2, p)) }, p)
	step("a rep of the look", func() { a.write(rep, refer(2, look), value(5, "1")) }, p)
	step("the rep edited", func() { a.write(rep, value(5, "2", a.at)) }, p)
	step("the look given to another", func() { a.write(look, refer(2, q, w.facts[7])) }, p, q)
	yes := entry.Change{Register: reg(merge.SameVerdict), Op: entry.OpValue, Value: merge.Yes}
	step("two are one", func() { a.write(pair, yes, refer(merge.SameFirst, q), refer(merge.SameSecond, r)) }, q, r)
	if g := s.Groups(); g.Leader(r) != g.Leader(q) {
		t.Error("not joined")
	}
	step("the rep of one of them", func() { a.write(rep, value(5, "3", a.at)) }, q, r)
	no := entry.Change{Register: reg(merge.SameVerdict), Op: entry.OpValue, Value: merge.No, Replaces: ids(w.facts[len(w.facts)-2 : len(w.facts)-1])}
	step("two again", func() { a.write(pair, no) }, q, r)
	step("the rep of one alone", func() { a.write(rep, value(5, "4", a.at)) }, q)
}

// TestSummaryOfAnEarlierMoment keeps a record stale that changed while its
// summary was computed.
func TestSummaryOfAnEarlierMoment(t *testing.T) {
	ctx := context.Background()
	w := newWorld(10)
	a := w.scout(w.root, 2)
	a.write(prospect(1), value(1, "elm"))
	s := w.store(t)
	s.append(t, w.all()...)
	_, mark := stale(t, s)
	done := len(w.facts)
	a.write(prospect(1), value(1, "oak", a.at))
	s.append(t, w.since(done)...)
	check(t, s.PutSummaries(ctx, mark, map[entry.RecordID][]byte{prospect(1): []byte("of elm")}))
	if ids, _ := stale(t, s); len(ids) != 1 {
		t.Error("what changed meanwhile is taken for summed up")
	}
	for x, err := range s.Summaries(ctx, kindProspect) {
		check(t, err)
		if x.Record != prospect(1) || string(x.Data) != "of elm" {
			t.Errorf("summary %+v", x)
		}
	}
}
