package merge_test

import (
	"bytes"
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// A laptop holds entries and folds them with the package under test, in the
// order in which they arrive and with branches numbered as they come up. A
// database does the same; here it is in memory and without shortcuts.
type laptop struct {
	staff  entry.StaffID
	tree   merge.Tree
	places map[entry.ID]merge.Place
	held   []*fact

	verdict *merge.Verdict
	status  map[entry.ID]merge.Status
	records map[entry.RecordID]*merge.Record
	hash    merge.StateHash
}

// read folds the facts, which come in the order of their arrival: whatever
// lies before a fact in its log comes before it.
func (w *world) read(facts ...*fact) *laptop {
	lap := &laptop{staff: w.staff, places: map[entry.ID]merge.Place{}}
	for _, f := range facts {
		lap.hold(f)
	}
	lap.judge()
	lap.fold()
	return lap
}

// all is the laptop that holds everything.
func (w *world) all() *laptop { return w.read(w.facts...) }

func (lap *laptop) hold(f *fact) {
	if _, have := lap.places[f.id]; have {
		return
	}
	lap.held = append(lap.held, f)
	var b merge.Branch
	if f.prev == nil {
		b = lap.tree.AddLog(f.id.Log)
	} else {
		after := lap.places[f.prev.id]
		b = after.Branch
		if lap.tree.Tip(b) != after.Seq {
			b = lap.tree.AddFork(after)
		}
	}
	lap.tree.Grow(b, f.id.Seq)
	lap.places[f.id] = merge.Place{Branch: b, Seq: f.id.Seq}
}

func (lap *laptop) locate(id entry.ID) (merge.Place, bool) {
	at, ok := lap.places[id]
	return at, ok
}

func (lap *laptop) ledger() merge.Ledger {
	l := merge.Ledger{Staff: lap.staff, Tree: &lap.tree, Locate: lap.locate}
	for _, f := range lap.held {
		switch {
		case f.prev == nil:
			l.Logs = append(l.Logs, merge.Log{ID: f.id.Log, Genesis: *f.body.Genesis})
		case f.first.body.Genesis.Control:
			l.Controls = append(l.Controls, merge.Control{ID: f.id, Place: lap.places[f.id], Body: f.body})
		}
	}
	return l
}

func (lap *laptop) judge() {
	lap.verdict = merge.Judge(lap.ledger())
	lap.status = make(map[entry.ID]merge.Status, len(lap.held))
	for _, f := range lap.held {
		s, at := lap.verdict.Standing(f.id.Log), lap.places[f.id]
		status := s.Status(s.Span(&lap.tree, at.Branch), at.Seq, f.header.Record, f.body.Kind)
		if status == merge.Applied && lap.verdict.Erasures.Erases(f.id, f.header.Record, f.body.Kind) {
			status = merge.Erased
		}
		lap.status[f.id] = status
	}
}

// fold makes all records anew, in the order of arrival.
func (lap *laptop) fold() {
	lap.records, lap.hash = map[entry.RecordID]*merge.Record{}, merge.StateHash{}
	if len(lap.verdict.Newer) > 0 {
		return
	}
	touched := lap.verdict.Erasures.Touched()
	for _, f := range lap.held {
		if f.header.Record != "" {
			touched[f.header.Record] = true
		}
	}
	for id := range touched {
		lap.foldRecord(id)
	}
}

func (lap *laptop) foldRecord(id entry.RecordID) {
	lap.hash = lap.hash.Sub(lap.record(id).Digest())
	r := &merge.Record{ID: id}
	for _, f := range lap.held {
		if f.header.Record == id && lap.status[f.id] == merge.Applied {
			r.Apply(f.asWrite())
		}
	}
	r.ApplyEdges(lap.verdict.Erasures.Edges(id))
	lap.records[id] = r
	lap.hash = lap.hash.Add(r.Digest())
}

// learn takes in more facts as a database does: what is new is applied to the
// stored bytes, what changed its status is folded again, the rest stays.
func (lap *laptop) learn(facts ...*fact) {
	before, wasNewer := lap.status, lap.verdict != nil && len(lap.verdict.Newer) > 0
	anew := map[entry.RecordID]bool{}
	if lap.verdict != nil {
		anew = lap.verdict.Erasures.Touched()
	}
	for _, f := range facts {
		lap.hold(f)
	}
	lap.judge()
	if wasNewer || len(lap.verdict.Newer) > 0 || lap.records == nil {
		lap.fold()
		return
	}
	maps.Copy(anew, lap.verdict.Erasures.Touched())
	for id := range anew {
		lap.foldRecord(id)
	}
	for _, f := range lap.held {
		if was, known := before[f.id]; known && was != lap.status[f.id] && f.header.Record != "" && !anew[f.header.Record] {
			anew[f.header.Record] = true
			lap.foldRecord(f.header.Record)
		}
	}
	for _, f := range facts {
		if _, known := before[f.id]; !known && f.header.Record != "" && lap.status[f.id] == merge.Applied && !anew[f.header.Record] {
			lap.apply(f)
		}
	}
}

func (lap *laptop) apply(f *fact) {
	stored := lap.record(f.header.Record)
	r, err := merge.Decode(stored.ID, stored.Encode())
	if err != nil {
		panic(err)
	}
	r.Apply(f.asWrite())
	lap.hash = lap.hash.Sub(stored.Digest()).Add(r.Digest())
	lap.records[r.ID] = r
}

func (f *fact) asWrite() merge.Write {
	return merge.Write{Origin: merge.Origin{ID: f.id, Lamport: f.header.Lamport, Wall: f.header.Wall}, Body: f.body}
}

func (lap *laptop) record(id entry.RecordID) *merge.Record {
	if lap.records[id] == nil {
		lap.records[id] = &merge.Record{ID: id}
	}
	return lap.records[id]
}

// Before makes the laptop the history that retirements are read against.
func (lap *laptop) Before(at, head entry.ID) bool {
	a, okA := lap.places[at]
	b, okB := lap.places[head]
	return okA && okB && lap.tree.Before(a, b)
}

// written yields the applied writes on a record and on what refers to it, in
// one step or several.
func (lap *laptop) written(id entry.RecordID) func(yield func(entry.ID) bool) {
	family := map[entry.RecordID]bool{id: true}
	for grown := true; grown; {
		grown = false
		for _, r := range lap.records {
			if !family[r.ID] && slices.ContainsFunc(r.References(), func(to entry.RecordID) bool { return family[to] }) {
				family[r.ID], grown = true, true
			}
		}
	}
	return func(yield func(entry.ID) bool) {
		for _, f := range lap.held {
			if family[f.header.Record] && f.body.Kind == entry.KindChanges && lap.status[f.id] == merge.Applied && !yield(f.id) {
				return
			}
		}
	}
}

func (lap *laptop) visibility(id entry.RecordID) merge.Visibility {
	return lap.record(id).Visibility(lap, lap.written(id))
}

func (lap *laptop) groups() *merge.Groups {
	var pairs []merge.Pair
	for _, r := range lap.records {
		if r.ID.Kind() == entry.KindSameAs {
			if p, ok := merge.ReadPair(r); ok {
				pairs = append(pairs, p)
			}
		}
	}
	return merge.Join(pairs)
}

// live lists the live values of a register, the one to show first.
func (lap *laptop) live(id entry.RecordID, r entry.Register) (values []string) {
	if found := lap.record(id).Find(r); found != nil {
		for _, v := range found.Live {
			values = append(values, string(v.Data))
		}
	}
	return values
}

// summary says in text what the laptop makes of what it holds: equal texts,
// equal outcome. It names entries by their ids, never by local numbers.
func (lap *laptop) summary(records []entry.RecordID) string {
	var lines []string
	say := func(format string, args ...any) { lines = append(lines, fmt.Sprintf(format, args...)) }
	for id, status := range lap.status {
		say("entry %s status %d", id, status)
	}
	for id := range lap.verdict.Grants {
		say("grant %s", id)
	}
	for _, cut := range lap.verdict.Cuts {
		say("cut %s", cut.ID)
	}
	for _, key := range lap.verdict.LinkKeys {
		say("link key %s", key.ID)
	}
	for _, id := range lap.verdict.Newer {
		say("newer %s", id)
	}
	if len(lap.verdict.Newer) == 0 {
		lap.sayRecords(records, say)
	}
	slices.Sort(lines)
	return strings.Join(lines, "\n")
}

func (lap *laptop) sayRecords(records []entry.RecordID, say func(string, ...any)) {
	groups := lap.groups()
	for _, id := range records {
		for _, reg := range lap.record(id).Registers {
			for i, v := range reg.Live {
				say("record %s register %v place %d: %s = %d %x", id, reg.Register, i, v.ID, v.Op, v.Data)
			}
		}
		say("record %s visibility %d", id, lap.visibility(id))
		say("record %s group %s", id, groups.Leader(id))
	}
	for _, p := range groups.Torn {
		say("torn %s %s", p.A, p.B)
	}
}

// liveSet names each live value, without saying which one is shown.
func (lap *laptop) liveSet() string {
	var lines []string
	for _, r := range lap.records {
		for _, reg := range r.Registers {
			for _, v := range reg.Live {
				lines = append(lines, fmt.Sprintf("%s %v %s", r.ID, reg.Register, v.ID))
			}
		}
	}
	slices.Sort(lines)
	return strings.Join(lines, "\n")
}

// stored is the bytes of every record of which something is known.
func (lap *laptop) stored() string {
	var b strings.Builder
	for _, id := range slices.SortedFunc(maps.Keys(lap.records), cmp.Compare) {
		if data := lap.records[id].Encode(); !bytes.Equal(data, (&merge.Record{}).Encode()) {
			fmt.Fprintf(&b, "%s %x\n", id, data)
		}
	}
	return b.String()
}
