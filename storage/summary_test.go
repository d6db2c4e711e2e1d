package storage

import (
	"context"
	"slices"
	"testing"
	"time"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
	"plumbline/sync/merge/mergetest"
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
	s.summarize(t, mark, summaries)
	if rest, _ := stale(t, s); len(rest) > 0 {
		t.Fatalf("%d records stay stale", len(rest))
	}
}

// summarize stores summaries where nothing else is being stored.
func (s *Store) summarize(t *testing.T, mark Mark, summaries map[entry.RecordID][]byte) {
	t.Helper()
	if stored, err := s.OfferSummaries(context.Background(), mark, summaries); !stored || err != nil {
		t.Fatalf("summaries stored: %t, %v", stored, err)
	}
}

// TestSummariesWhileAnotherWrites offers some while something else is being stored.
func TestSummariesWhileAnotherWrites(t *testing.T) {
	w := newWorld(13)
	a := w.Scout(w.Root, 2)
	a.Write(prospect(1), value(1, "elm"))
	s := storeOf(t, w)
	s.append(t, all(w)...)
	due, mark := stale(t, s)
	s.writing.Lock()
	if stored, err := s.OfferSummaries(t.Context(), mark, map[entry.RecordID][]byte{prospect(1): []byte("of elm")}); stored || err != nil {
		t.Error(stored, err)
	}
	waited := make(chan struct{})
	go func() { s.AwaitWriter(); close(waited) }()
	<-time.After(50 * time.Millisecond) // whoever would not wait has its time to return
	select {
	case <-waited:
		t.Error("nobody was waited for")
	default:
	}
	s.writing.Unlock()
	<-waited
	if left, _ := stale(t, s); !slices.Equal(left, due) {
		t.Errorf("%v are stale, %v were", left, due)
	}
	settleAll(t, s)
}

// TestSummariesGoStale touches things far below prospects and wants exactly
// those prospects stale that depend on them.
func TestSummariesGoStale(t *testing.T) {
	w := newWorld(9)
	a := w.Scout(w.Root, 2)
	p, q, r := prospect(1), prospect(2), prospect(3)
	look, rep := a.Look(1), a.Rep(1)
	pair := entry.SameAsID(q, r)
	s := storeOf(t, w)
	step := func(what string, write func(), want ...entry.RecordID) {
		t.Helper()
		done := len(w.Facts)
		write()
		if done == 4 {
			done = 0
		}
		s.append(t, since(w, done)...)
		if got, _ := stale(t, s); !slices.Equal(got, want) {
			t.Errorf("%s: stale %v, want %v", what, got, want)
		}
		settleAll(t, s)
	}
	for len(w.Facts) < 4 {
		a.Write(board(1), value(1, "no right"))
	}
	step("three prospects", func() {
		a.Write(p, value(1, "elm"))
		a.Write(q, value(1, "oak"))
		a.Write(r, value(1, "ash"))
	}, p, q, r)
	step("a look at one", func() { a.Write(look, refer(2, p)) }, p)
	step("a rep of the look", func() { a.Write(rep, refer(2, look), value(5, "1")) }, p)
	step("the rep edited", func() { a.Write(rep, value(5, "2", a.At)) }, p)
	step("the look given to another", func() { a.Write(look, refer(2, q, w.Facts[7])) }, p, q)
	step("two are one", func() { a.Same(merge.Yes, q, r) }, q, r)
	if g := s.Groups(); g.Leader(r) != g.Leader(q) {
		t.Error("not joined")
	}
	step("the rep of one of them", func() { a.Write(rep, value(5, "3", a.At)) }, q, r)
	no := entry.Change{Register: reg(merge.SameVerdict), Op: entry.OpValue, Value: merge.No, Replaces: mergetest.IDs(w.Facts[len(w.Facts)-2 : len(w.Facts)-1])}
	step("two again", func() { a.Write(pair, no) }, q, r)
	step("the rep of one alone", func() { a.Write(rep, value(5, "4", a.At)) }, q)
}

// TestSummaryOfAnEarlierMoment keeps a record stale that changed while its
// summary was computed.
func TestSummaryOfAnEarlierMoment(t *testing.T) {
	ctx := context.Background()
	w := newWorld(10)
	a := w.Scout(w.Root, 2)
	a.Write(prospect(1), value(1, "elm"))
	s := storeOf(t, w)
	s.append(t, all(w)...)
	_, mark := stale(t, s)
	done := len(w.Facts)
	a.Write(prospect(1), value(1, "oak", a.At))
	s.append(t, since(w, done)...)
	s.summarize(t, mark, map[entry.RecordID][]byte{prospect(1): []byte("of elm")})
	if ids, _ := stale(t, s); len(ids) != 1 {
		t.Error("what changed meanwhile is taken for summed up")
	}
	for x, err := range s.Summaries(ctx, mergetest.KindProspect) {
		check(t, err)
		if x.Record != prospect(1) || string(x.Data) != "of elm" {
			t.Errorf("summary %+v", x)
		}
	}
}

// TestPackOfAnEarlierMoment keeps a pack to be made of which a record changed
// while it was made, before and after others were made of it.
func TestPackOfAnEarlierMoment(t *testing.T) {
	ctx := context.Background()
	w := newWorld(10)
	a := w.Scout(w.Root, 2)
	a.Write(prospect(1), value(1, "elm"))
	s := storeOf(t, w)
	s.append(t, all(w)...)
	put := func(mark Mark, data string) (held string) {
		t.Helper()
		packs, _, err := s.Packs(ctx, mergetest.KindProspect, nil)
		check(t, err)
		check(t, s.PutPacks(ctx, mark, map[Number]Pack{packs[0].First: {Head: []byte(data)}}))
		packs, _, err = s.Packs(ctx, mergetest.KindProspect, nil)
		check(t, err)
		return string(packs[0].Head)
	}
	change := func(to string) (before Mark) {
		t.Helper()
		_, before, err := s.Packs(ctx, mergetest.KindProspect, nil)
		check(t, err)
		done := len(w.Facts)
		a.Write(prospect(1), value(1, to, a.At))
		s.append(t, since(w, done)...)
		return before
	}
	first := change("oak")
	second := change("ash")
	_, now, err := s.Packs(ctx, mergetest.KindProspect, nil)
	check(t, err)
	for _, step := range []struct {
		mark       Mark
		data, want string
	}{{first, "of elm", ""}, {second, "of oak", ""}, {now, "of ash", "of ash"}, {second, "of oak", "of ash"}} {
		if got := put(step.mark, step.data); got != step.want {
			t.Errorf("%s at %d: the pack is %q, want %q", step.data, step.mark, got, step.want)
		}
	}
	change("fir")
	if got := put(now, "of ash"); got != "" {
		t.Errorf("what changed since is taken for %q", got)
	}
}
