package mergetest

import (
	"slices"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Laptop holds entries and folds them with package merge, in the order in which
// they arrive and with branches numbered as they come up. A database does the
// same; here it is in memory and without shortcuts.
type Laptop struct {
	Held    []*Fact
	Verdict *merge.Verdict
	Status  map[entry.ID]merge.Status
	Records map[entry.RecordID]*merge.Record
	Hash    merge.StateHash

	staff  entry.StaffID
	tree   merge.Tree
	places map[entry.ID]merge.Place
}

// Read folds the facts, which come in the order of their arrival: whatever lies
// before a fact in its log comes before it.
func (w *World) Read(facts ...*Fact) *Laptop {
	lap := &Laptop{staff: w.Staff, places: map[entry.ID]merge.Place{}}
	for _, f := range facts {
		lap.hold(f)
	}
	lap.judge()
	lap.fold()
	return lap
}

func (lap *Laptop) hold(f *Fact) {
	if _, have := lap.places[f.ID]; have {
		return
	}
	lap.Held = append(lap.Held, f)
	var b merge.Branch
	if f.Prev == nil {
		b = lap.tree.AddLog(f.ID.Log)
	} else {
		after := lap.places[f.Prev.ID]
		b = after.Branch
		if lap.tree.Tip(b) != after.Seq {
			b = lap.tree.AddFork(after)
		}
	}
	lap.tree.Grow(b, f.Seq)
	lap.places[f.ID] = merge.Place{Branch: b, Seq: f.Seq}
}

// Place is where the laptop holds an entry.
func (lap *Laptop) Place(id entry.ID) (at merge.Place, held bool) {
	at, held = lap.places[id]
	return at, held
}

// Tips lists the last fact of each branch, by the branches' numbers.
func (lap *Laptop) Tips() []*Fact {
	tips := make([]*Fact, lap.tree.Len())
	for _, f := range lap.Held {
		tips[lap.places[f.ID].Branch] = f
	}
	return tips
}

// Span is how much of a branch counts.
func (lap *Laptop) Span(b merge.Branch) merge.Span {
	return lap.Verdict.Standing(lap.tree.Log(b)).Span(&lap.tree, b)
}

// Ledger is what the laptop's entries are judged from.
func (lap *Laptop) Ledger() merge.Ledger {
	l := merge.Ledger{Staff: lap.staff, Tree: &lap.tree, Locate: func(id entry.ID) (merge.Place, bool) {
		at, ok := lap.places[id]
		return at, ok
	}}
	for _, f := range lap.Held {
		switch {
		case f.Prev == nil:
			l.Logs = append(l.Logs, merge.Log{ID: f.ID.Log, Genesis: *f.Says.Genesis})
		case f.First.Says.Genesis.Control:
			l.Controls = append(l.Controls, merge.Control{ID: f.ID, Place: lap.places[f.ID], Body: f.Says})
		}
	}
	return l
}

func (lap *Laptop) judge() {
	lap.Verdict = merge.Judge(lap.Ledger())
	lap.Status = make(map[entry.ID]merge.Status, len(lap.Held))
	for _, f := range lap.Held {
		s, at := lap.Verdict.Standing(f.ID.Log), lap.places[f.ID]
		status := s.Status(s.Span(&lap.tree, at.Branch), at.Seq, f.Header.Record, f.Says.Kind)
		if status == merge.Applied && lap.Verdict.Erasures.Erases(f.ID, f.Header.Record, f.Says.Kind) {
			status = merge.Erased
		}
		lap.Status[f.ID] = status
	}
}

// fold makes all records anew, in the order of arrival.
func (lap *Laptop) fold() {
	lap.Records, lap.Hash = map[entry.RecordID]*merge.Record{}, merge.StateHash{}
	if len(lap.Verdict.Newer) > 0 {
		return
	}
	touched := lap.Verdict.Erasures.Touched()
	for _, f := range lap.Held {
		if f.Header.Record != "" {
			touched[f.Header.Record] = true
		}
	}
	for id := range touched {
		lap.foldRecord(id)
	}
}

func (lap *Laptop) foldRecord(id entry.RecordID) {
	lap.Hash = lap.Hash.Sub(lap.Record(id).Digest())
	r := &merge.Record{ID: id}
	for _, f := range lap.Held {
		if f.Header.Record == id && lap.Status[f.ID] == merge.Applied {
			r.Apply(f.asWrite())
		}
	}
	r.ApplyEdges(lap.Verdict.Erasures.Edges(id))
	lap.Records[id] = r
	lap.Hash = lap.Hash.Add(r.Digest())
}

func (f *Fact) asWrite() merge.Write {
	return merge.Write{Origin: merge.Origin{ID: f.ID, Lamport: f.Header.Lamport, Wall: f.Header.Wall}, Body: f.Says}
}

// Record returns a record, empty if nothing is known of it.
func (lap *Laptop) Record(id entry.RecordID) *merge.Record {
	if lap.Records[id] == nil {
		lap.Records[id] = &merge.Record{ID: id}
	}
	return lap.Records[id]
}

// Before makes the laptop the history that retirements are read against.
func (lap *Laptop) Before(at, head entry.ID) bool {
	a, okA := lap.places[at]
	b, okB := lap.places[head]
	return okA && okB && lap.tree.Before(a, b)
}

// family is a record and what refers to it, in one step or several.
func (lap *Laptop) family(id entry.RecordID) map[entry.RecordID]bool {
	family := map[entry.RecordID]bool{id: true}
	for grown := true; grown; {
		grown = false
		for _, r := range lap.Records {
			if !family[r.ID] && slices.ContainsFunc(r.References(), func(to entry.RecordID) bool { return family[to] }) {
				family[r.ID], grown = true, true
			}
		}
	}
	return family
}

// written yields the applied writes on a record and on its family.
func (lap *Laptop) written(id entry.RecordID) func(yield func(entry.ID) bool) {
	family := lap.family(id)
	return func(yield func(entry.ID) bool) {
		for _, f := range lap.Held {
			if family[f.Header.Record] && f.Says.Kind == entry.KindChanges && lap.Status[f.ID] == merge.Applied && !yield(f.ID) {
				return
			}
		}
	}
}

// Visibility tells whether a record is hidden.
func (lap *Laptop) Visibility(id entry.RecordID) merge.Visibility {
	return lap.Record(id).Visibility(lap, lap.written(id))
}

// Pairs lists what same-as records say.
func (lap *Laptop) Pairs() (pairs []merge.Pair) {
	for _, r := range lap.Records {
		if r.ID.Kind() == entry.KindSameAs {
			if p, ok := merge.ReadPair(r); ok {
				pairs = append(pairs, p)
			}
		}
	}
	return pairs
}

// Groups joins the records that are one.
func (lap *Laptop) Groups() *merge.Groups { return merge.Join(lap.Pairs()) }

// Outcome says what the laptop makes of what it holds.
func (lap *Laptop) Outcome(records []entry.RecordID) string {
	var o Outcome
	for id, status := range lap.Status {
		o.Entry(id, status)
	}
	o.Verdict(lap.Verdict)
	if len(lap.Verdict.Newer) == 0 {
		for _, id := range records {
			o.Record(lap.Record(id))
			o.Visibility(id, lap.Visibility(id))
		}
		o.Groups(lap.Groups(), records)
	}
	return o.String()
}
