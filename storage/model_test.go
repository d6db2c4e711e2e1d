package storage

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// model folds a set of facts in memory, at once and without shortcuts. It
// shares with the store only the rules of merging.
type model struct {
	tree    merge.Tree
	places  map[entry.ID]merge.Place
	held    []*fact
	verdict *merge.Verdict
	status  map[entry.ID]merge.Status
	records map[entry.RecordID]*merge.Record
	hash    merge.StateHash
}

func (w *world) model(facts []*fact) *model {
	m := &model{places: map[entry.ID]merge.Place{}, status: map[entry.ID]merge.Status{}, records: map[entry.RecordID]*merge.Record{}}
	l := merge.Ledger{Staff: w.staff, Tree: &m.tree, Locate: func(id entry.ID) (merge.Place, bool) { p, ok := m.places[id]; return p, ok }}
	for _, f := range facts {
		m.hold(f)
		switch {
		case f.prev == nil:
			l.Logs = append(l.Logs, merge.Log{ID: f.id.Log, Genesis: *f.body.Genesis})
		case f.first.body.Genesis.Control:
			l.Controls = append(l.Controls, merge.Control{ID: f.id, Place: m.places[f.id], Body: f.body})
		}
	}
	m.verdict = merge.Judge(l)
	m.fold()
	return m
}

func (m *model) hold(f *fact) {
	m.held = append(m.held, f)
	var b merge.Branch
	if f.prev == nil {
		b = m.tree.AddLog(f.id.Log)
	} else {
		after := m.places[f.prev.id]
		if b = after.Branch; m.tree.Tip(b) != after.Seq {
			b = m.tree.AddFork(after)
		}
	}
	m.tree.Grow(b, f.Seq)
	m.places[f.id] = merge.Place{Branch: b, Seq: f.Seq}
}

func (m *model) fold() {
	for _, f := range m.held {
		s, at := m.verdict.Standing(f.id.Log), m.places[f.id]
		status := s.Status(s.Span(&m.tree, at.Branch), at.Seq, f.Header.Record, f.body.Kind)
		if status == merge.Applied && m.verdict.Erasures.Erases(f.id, f.Header.Record, f.body.Kind) {
			status = merge.Erased
		}
		m.status[f.id] = status
		if status != merge.Applied || f.Header.Record == "" {
			continue
		}
		r := m.records[f.Header.Record]
		if r == nil {
			r = &merge.Record{ID: f.Header.Record}
			m.records[r.ID] = r
		}
		r.Apply(merge.Write{Origin: merge.Origin{ID: f.id, Lamport: f.Header.Lamport, Wall: f.Header.Wall}, Body: f.body})
	}
	for id, r := range m.records {
		r.ApplyEdges(m.verdict.Erasures.Edges(id))
		m.hash = m.hash.Add(r.Digest())
	}
}

func (m *model) Before(at, head entry.ID) bool {
	a, okA := m.places[at]
	b, okB := m.places[head]
	return okA && okB && m.tree.Before(a, b)
}

func (m *model) visibility(id entry.RecordID) merge.Visibility {
	family := map[entry.RecordID]bool{id: true}
	for grown := true; grown; {
		grown = false
		for _, r := range m.records {
			if !family[r.ID] && slices.ContainsFunc(r.References(), func(to entry.RecordID) bool { return family[to] }) {
				family[r.ID], grown = true, true
			}
		}
	}
	return m.records[id].Visibility(m, func(yield func(entry.ID) bool) {
		for _, f := range m.held {
			if family[f.Header.Record] && f.body.Kind == entry.KindChanges && m.status[f.id] == merge.Applied && !yield(f.id) {
				return
			}
		}
	})
}

// dump writes down everything that must be equal, a line for each thing.
func (m *model) dump() string {
	var lines []string
	for id, status := range m.status {
		lines = append(lines, fmt.Sprintf("entry %s status %d", id, status))
	}
	for _, id := range slices.Sorted(maps.Keys(m.records)) {
		r := m.records[id]
		lamport := uint64(0)
		for _, f := range m.held {
			if f.Header.Record == id && m.status[f.id] == merge.Applied {
				lamport = max(lamport, f.Header.Lamport)
			}
		}
		lines = append(lines, fmt.Sprintf("record %s state %x lamport %d conflicts %d visibility %d", id, r.Encode(), lamport, len(r.Conflicts()), m.visibility(id)))
		for _, to := range r.References() {
			lines = append(lines, fmt.Sprintf("record %s refers to %s", id, to))
		}
		if words := (projector{}).Words(r); strings.Contains(words, "elm") && m.visibility(id) != merge.Hidden {
			lines = append(lines, fmt.Sprintf("found %s", id))
		}
	}
	for _, id := range slices.Sorted(maps.Keys(m.records)) {
		if p, ok := merge.ReadPair(m.records[id]); ok && id.Kind() == entry.KindSameAs {
			lines = append(lines, fmt.Sprintf("pair %+v", p))
		}
	}
	lines = append(lines, "hash "+m.hash.String())
	slices.Sort(lines)
	return strings.Join(lines, "\n")
}
