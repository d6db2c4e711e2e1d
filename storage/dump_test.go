package storage

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
	"plumbline/sync/merge/mergetest"
)

// dumpOf writes down what a store must hold, a line for each thing, from what a
// laptop without a database makes of the same facts.
func dumpOf(lap *mergetest.Laptop) string {
	var lines []string
	add := func(format string, args ...any) { lines = append(lines, fmt.Sprintf(format, args...)) }
	for id, status := range lap.Status {
		add("entry %s status %d", id, status)
	}
	for id, r := range lap.Records {
		lamport := uint64(0)
		for _, f := range lap.Held {
			if f.Header.Record == id && lap.Status[f.ID] == merge.Applied {
				lamport = max(lamport, f.Header.Lamport)
			}
		}
		if lamport == 0 {
			continue // nothing applied, nothing kept
		}
		visibility := lap.Visibility(id)
		add("record %s state %x lamport %d conflicts %d visibility %d", id, r.Encode(), lamport, len(r.Conflicts()), visibility)
		for _, to := range r.References() {
			add("record %s refers to %s", id, to)
		}
		if words := (projector{}).Words(r.ID, liveValues(r)); strings.Contains(words, "elm") && visibility != merge.Hidden {
			add("found %s", id)
		}
	}
	for _, p := range lap.Pairs() {
		add("pair %+v", p)
	}
	add("hash %s", lap.Hash)
	slices.Sort(lines)
	return strings.Join(lines, "\n")
}

// dump writes down what the store holds, in the form of dumpOf.
func (s *Store) dump(t tester) string {
	var lines []string
	add := func(format string, args ...any) { lines = append(lines, fmt.Sprintf(format, args...)) }
	m, q := s.held.Load(), s.readers.bind(context.Background())
	s.statuses(t, func(id entry.ID, status merge.Status) { add("entry %s status %d", id, status) })
	err := q.records(func(r stored) error {
		add("record %s state %x lamport %d conflicts %d visibility %d", r.ID, r.Encode(), r.Info.Lamport, r.Info.Conflicts, r.Info.Visibility)
		return nil
	}, "WHERE r.state IS NOT NULL")
	check(t, err)
	err = q(func(scan func(...any) error) error {
		var from, to []byte
		err := scan(&from, &to)
		add("record %s refers to %s", entry.RecordID(from), entry.RecordID(to))
		return err
	}, "SELECT s.id, t.id FROM ref JOIN record s ON s.n BETWEEN source AND source + count - 1 JOIN record t ON t.n = ref.target")
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
	err := s.readers.bind(context.Background())(func(scan func(...any) error) error {
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
		number, args := s.held.Load().byID(id)
		err := s.readers.bind(context.Background()).records(func(r stored) error {
			o.Record(r.Record)
			visibility = r.Info.Visibility
			return nil
		}, "WHERE r.state IS NOT NULL AND r.n = ("+number+")", args...)
		check(t, err)
		o.Visibility(id, visibility)
	}
	o.Groups(s.Groups(), records)
	return o.String()
}
