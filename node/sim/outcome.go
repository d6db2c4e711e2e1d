package sim

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
	"plumbline/sync/merge/mergetest"
)

// followsTheRules holds what a laptop makes of its entries against the rules read
// out loud, which share no code with it.
func (w *World) followsTheRules(l *Laptop) {
	store := l.up.store
	facts := w.heldBy(l)
	model, known := w.models[l.set]
	if !known {
		m := mergetest.NewModel(&mergetest.World{Staff: w.staff}, facts)
		model = reading{newer: m.Newer()}
		if !model.newer {
			model.lines = strings.Split(m.Outcome(w.allRecords()), "\n")
		}
		w.models[l.set] = model
	}
	if store.Blocked() != model.newer {
		w.fail("%s: folding stopped is %v, by the rules %v", l, store.Blocked(), model.newer)
	}
	if model.newer || w.failure != nil {
		return
	}
	got, unread, err := w.read(l, facts)
	if err != nil {
		w.fail("%s can't be read: %v", l, err)
		return
	}
	want := slices.DeleteFunc(slices.Clone(model.lines), func(line string) bool {
		record, ok := strings.CutPrefix(line, "record ")
		return ok && strings.Contains(line, " visibility ") && unread[strings.Fields(record)[0]]
	})
	if !slices.Equal(got, want) {
		w.fail("%s makes of %d entries what the rules don't: only there\n  %s\nonly by the rules\n  %s", l, len(facts),
			strings.Join(without(got, want), "\n  "), strings.Join(without(want, got), "\n  "))
	}
}

// audit holds a laptop against the rules in the middle of a run, when much hasn't
// arrived yet.
func (w *World) audit(d *dice) {
	if l := w.someone(d, running); l != nil {
		w.followsTheRules(l)
	}
}

// reading is what the rules read out loud come to.
type reading struct {
	newer bool
	lines []string
}

func without(lines, others []string) (rest []string) {
	for _, line := range lines {
		if !slices.Contains(others, line) {
			rest = append(rest, line)
		}
	}
	return rest
}

// heldBy lists what a laptop holds, in the order of writing.
func (w *World) heldBy(l *Laptop) (facts []*mergetest.Fact) {
	for _, f := range w.written.order {
		if l.held[f] {
			facts = append(facts, f)
		}
	}
	return facts
}

// allRecords are those of the world and the statements about pairs of them.
func (w *World) allRecords() []entry.RecordID {
	ids := slices.Clone(w.records)
	for i, a := range w.records[:prospects] {
		for _, b := range w.records[:i] {
			ids = append(ids, entry.SameAsID(a, b))
		}
	}
	return ids
}

// read writes down what a laptop shows. Of a record without any value it shows
// nothing, so its visibility can't be read.
func (w *World) read(l *Laptop, facts []*mergetest.Fact) (lines []string, unread map[string]bool, err error) {
	var o mergetest.Outcome
	statuses, err := w.statuses(l)
	if err != nil {
		return nil, nil, err
	}
	for _, f := range facts {
		o.Entry(f.ID, statuses[f.ID])
	}
	o.Verdict(l.up.store.Verdict())
	unread = map[string]bool{}
	ids := w.allRecords()
	for _, id := range ids {
		row, err := l.up.store.Record(background, id)
		if errors.Is(err, storage.ErrNoRecord) {
			unread[id.String()] = true
			continue
		}
		if err != nil {
			return nil, nil, err
		}
		o.Record(row.Record)
		o.Visibility(id, row.Info.Visibility)
		w.countRecord(row)
	}
	groups := l.up.store.Groups()
	o.Groups(groups, ids)
	if len(groups.Torn) > 0 {
		w.count.add("torn group")
	}
	w.countEntries(l, facts, statuses)
	return strings.Split(o.String(), "\n"), unread, nil
}

// statuses says of each entry that a laptop holds what became of it.
func (w *World) statuses(l *Laptop) (map[entry.ID]merge.Status, error) {
	statuses := map[entry.ID]merge.Status{}
	for f := range l.held {
		statuses[f.ID] = merge.Applied
	}
	aside, err := l.up.store.SetAside(background, 0)
	for _, e := range aside {
		statuses[e.ID] = e.Status
	}
	return statuses, err
}

// outcome says what the laptops hold and show in the end. Entries are called by
// their numbers in the order of writing, and of values nothing is said about
// their order, since a hash decides it where Lamport times are equal.
func (w *World) outcome() string {
	var names []string
	for f, n := range w.written.number {
		names = append(names, f.ID.String(), fmt.Sprint("#", n))
	}
	byNumber := strings.NewReplacer(names...)
	var all []string
	for _, l := range w.laptops {
		if l.up == nil {
			continue
		}
		lines, _, err := w.read(l, w.heldBy(l))
		w.must(err)
		for i, line := range lines {
			line = byNumber.Replace(line)
			if before, after, ok := strings.Cut(line, " place "); ok {
				_, after, _ = strings.Cut(after, ": ")
				line = before + " " + after
			}
			lines[i] = fmt.Sprintf("%s: %s", l, line)
		}
		slices.Sort(lines)
		all = append(all, lines...)
	}
	return strings.Join(all, "\n")
}
