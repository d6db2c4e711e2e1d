package storage

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
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

// dump writes down what the store holds, in the form of the model's dump.
func (s *Store) dump(t tester) string {
	var lines []string
	add := func(format string, args ...any) { lines = append(lines, fmt.Sprintf(format, args...)) }
	m, q := s.held.Load(), s.readers.bind(context.Background())
	s.statuses(t, func(id entry.ID, status merge.Status) { add("entry %s status %d", id, status) })
	err := q.each(func(scan func(...any) error) error {
		var id, state []byte
		var lamport uint64
		var conflicts, visibility int
		err := scan(&id, &state, &lamport, &conflicts, &visibility)
		add("record %s state %x lamport %d conflicts %d visibility %d", entry.RecordID(id), state, lamport, conflicts, visibility)
		return err
	}, "SELECT id, state, lamport, conflicts, visibility FROM record WHERE state IS NOT NULL")
	check(t, err)
	err = q.each(func(scan func(...any) error) error {
		var from, to []byte
		err := scan(&from, &to)
		add("record %s refers to %s", entry.RecordID(from), entry.RecordID(to))
		return err
	}, "SELECT s.id, t.id FROM ref JOIN record s ON s.n = ref.source JOIN record t ON t.n = ref.target")
	check(t, err)
	found, err := s.Search(context.Background(), "ELM", 0, 0)
	check(t, err)
	for _, id := range found {
		add("found %s", id)
	}
	for _, p := range m.pairs {
		add("pair %+v", p)
	}
	add("hash %s", s.StateHash())
	slices.Sort(lines)
	return strings.Join(lines, "\n")
}

func (s *Store) statuses(t tester, say func(entry.ID, merge.Status)) {
	t.Helper()
	m := s.held.Load()
	err := s.readers.bind(context.Background()).each(func(scan func(...any) error) error {
		var key entryKey
		var hash []byte
		var status merge.Status
		err := scan(&key, &hash, &status)
		say(entryID(m.branches[key.place().Branch].log.id, key.place().Seq, hash), status)
		return err
	}, "SELECT n, hash, status FROM entry")
	check(t, err)
}

// outcome writes down what the store makes of what it holds, in the form of the
// rules read out loud.
func (s *Store) outcome(t tester, records []entry.RecordID) string {
	t.Helper()
	var o mergetest.Outcome
	s.statuses(t, o.Entry)
	o.Verdict(s.Verdict())
	for _, id := range records {
		visibility := merge.Visible // of what nobody wrote about
		err := s.readers.bind(context.Background()).records(func(r stored) error {
			o.Record(r.Record)
			visibility = r.Info.Visibility
			return nil
		}, "WHERE state IS NOT NULL AND id = ?", []byte(id))
		check(t, err)
		o.Visibility(id, visibility)
	}
	o.Groups(s.Groups(), records)
	return o.String()
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
// which may bring again what is held.
func fill(t *rapid.T, s *Store, h *mergetest.History, facts []*mergetest.Fact, label string) {
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
	}
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
		fill(rt, s, h, facts, "arrival")
		lap := h.Read(facts...)
		if blocked := len(lap.Verdict.Newer) > 0; blocked != s.Blocked() {
			rt.Fatalf("blocked %v, want %v", s.Blocked(), blocked)
		} else if blocked {
			return
		}
		same(rt, "outcome", s.outcome(rt, h.Records), mergetest.NewModel(h.World, facts).Outcome(h.Records))
		want := dumpOf(lap)
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
			fill(rt, s, h, facts, label)
			if !s.Blocked() {
				dumps = append(dumps, s.dump(rt))
			}
			// What comes next takes off a newer kind's author at times.
			fill(rt, s, h, h.Facts, label+" rest")
			check(rt, s.Close())
		}
		if len(dumps) == 2 {
			same(rt, "order of arrival", dumps[0], dumps[1])
		}
	})
}
