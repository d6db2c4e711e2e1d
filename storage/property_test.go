package storage

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"plumbline/sync/merge/mergetest"
)

// longest is how long a history is at most.
const longest = 38

// tester is a test, whoever runs it.
type tester interface {
	Helper()
	Fatal(...any)
	Fatalf(string, ...any)
}

func check(t tester, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func same(t tester, what, got, want string) {
	t.Helper()
	if got == want {
		return
	}
	g, w := strings.Split(got, "\n"), strings.Split(want, "\n")
	only := func(a, b []string) (list []string) {
		for _, line := range a {
			if !slices.Contains(b, line) {
				list = append(list, line)
			}
		}
		return list
	}
	t.Fatalf("%s: only there\n%s\n\nmissing\n%s", what, strings.Join(only(g, w), "\n"), strings.Join(only(w, g), "\n"))
}

// fill stores facts in some order of arrival, in batches of any size, each of
// which may bring again what is held. After each the store follows the rules on
// what it holds by then, these facts and the ones before.
func fill(t *rapid.T, s *Store, h *mergetest.History, before, facts []*mergetest.Fact, label string) {
	arrival := h.Arrival(facts, label)
	done, held := 0, entriesHeld(s)
	added := 0
	for done < len(arrival) {
		n := rapid.IntRange(1, min(25, len(arrival)-done)).Draw(t, label+" batch")
		from := done
		if rapid.IntRange(0, 5).Draw(t, "again") == 0 {
			from = max(0, done-3)
		}
		batch := arrival[from : done+n]
		o, err := s.Append(context.Background(), runs(h.World, batch, func() bool { return len(batch)%2 == 0 })...)
		check(t, err)
		added += o.Added
		done += n
		followsTheRules(t, s, h, slices.Concat(before, arrival[:done]))
	}
	showsItsRecords(t, s)
	if held+added != len(arrival) || entriesHeld(s) != len(arrival) {
		t.Fatalf("%d were held, %d added, %d of %d are", held, added, entriesHeld(s), len(arrival))
	}
}

func entriesHeld(s *Store) (n int) {
	for _, b := range s.held.Load().branches {
		n += int(b.tip.Seq - b.fork)
	}
	return n
}

// TestFoldedStepByStepIsTheModels holds a store that learns of a history bit
// by bit, in any order, against a fold of everything at once.
func TestFoldedStepByStepIsTheModels(t *testing.T) {
	dir := t.TempDir()
	rapid.Check(t, func(rt *rapid.T) {
		h := mergetest.Draw(rt, longest)
		facts := h.Part("not held")
		path := filepath.Join(dir, "plumbline.db")
		removeDatabase(rt, path)
		s, err := Open(context.Background(), path, Options{Staff: h.Staff, Projector: projector{}})
		check(rt, err)
		defer func() { s.Close() }()
		fill(rt, s, h, nil, facts, "arrival")
		if s.Blocked() {
			return
		}
		want := dumpOf(h.Read(facts...))
		same(rt, "step by step", s.dump(rt), want)
		sound(rt, s)
		check(rt, s.Close())
		s, err = Open(context.Background(), path, Options{Projector: projector{}})
		check(rt, err)
		same(rt, "opened again", s.dump(rt), want)
		check(rt, s.Rebuild(context.Background()))
		same(rt, "rebuilt", s.dump(rt), want)
		sound(rt, s)
	})
}

// followsTheRules holds a store against the rules read out loud.
func followsTheRules(t *rapid.T, s *Store, h *mergetest.History, held []*mergetest.Fact) {
	m := mergetest.NewModel(h.World, held)
	if m.Newer() != s.Blocked() {
		t.Fatalf("blocked %v, want %v", s.Blocked(), m.Newer())
	}
	if !s.Blocked() {
		same(t, "outcome", s.outcome(t, h.Records), m.Outcome(h.Records))
	}
}

// sound lets the store check itself.
func sound(t *rapid.T, s *Store) {
	report, err := s.Verify(context.Background(), nil)
	check(t, err)
	if len(report.Faults) > 0 {
		t.Fatalf("verify finds %v", report.Faults)
	}
}

func removeDatabase(t *rapid.T, path string) {
	for _, suffix := range []string{"", "-wal", "-shm"} {
		if err := os.Remove(path + suffix); err != nil && !os.IsNotExist(err) {
			t.Fatal(err)
		}
	}
}

// TestOrderOfArrivalChangesNothing compares two stores with each other, in the
// middle of what there is to learn too.
func TestOrderOfArrivalChangesNothing(t *testing.T) {
	dir := t.TempDir()
	rapid.Check(t, func(rt *rapid.T) {
		h := mergetest.Draw(rt, longest)
		facts := h.Part("not held")
		var dumps []string
		for _, label := range []string{"one", "other"} {
			path := filepath.Join(dir, label+".db")
			removeDatabase(rt, path)
			s, err := Open(context.Background(), path, Options{Staff: h.Staff, Projector: projector{}})
			check(rt, err)
			fill(rt, s, h, nil, facts, label)
			if !s.Blocked() {
				dumps = append(dumps, s.dump(rt))
			}
			// What comes next takes off a newer kind's author at times.
			fill(rt, s, h, facts, h.Facts, label+" rest")
			check(rt, s.Close())
		}
		if len(dumps) == 2 {
			same(rt, "order of arrival", dumps[0], dumps[1])
		}
	})
}
