package merge_test

import (
	"bytes"
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
	"plumbline/sync/merge/mergetest"
)

// The words of the invented world, short: the cases below are read as
// sentences.
type (
	world = mergetest.World
	line  = mergetest.Line
	fact  = mergetest.Fact
)

var (
	newWorld = mergetest.NewWorld
	shared   = mergetest.Prospect
	board    = mergetest.Board
	reg      = mergetest.Reg
	value    = mergetest.Value
	refer    = mergetest.Refer
	ids      = mergetest.IDs
	without  = mergetest.Without
)

// kindNewer is a kind of record that no program has heard of.
const kindNewer entry.Kind = 900

// A laptop is asked for more here than elsewhere.
type laptop struct{ *mergetest.Laptop }

func read(w *world, facts ...*fact) laptop { return laptop{w.Read(facts...)} }

// all is the laptop that holds everything.
func all(w *world) laptop { return read(w, w.Facts...) }

func check[T comparable](t *testing.T, what string, got, want T) {
	t.Helper()
	if got != want {
		t.Errorf("%s: got %v, want %v", what, got, want)
	}
}

// statuses checks facts one by one.
func (lap laptop) statuses(t *testing.T, what string, facts []*fact, want ...merge.Status) {
	t.Helper()
	for i, f := range facts {
		if got := lap.Status[f.ID]; got != want[i] {
			t.Errorf("%s: entry %d: status %d, want %d", what, i, got, want[i])
		}
	}
}

// shows checks the live values of field 1 of a record, the shown one first.
func (lap laptop) shows(t *testing.T, what string, id entry.RecordID, want ...string) {
	t.Helper()
	check(t, what, strings.Join(lap.live(id, reg(1)), " | "), strings.Join(want, " | "))
}

// live lists the live values of a register, the one to show first.
func (lap laptop) live(id entry.RecordID, r entry.Register) (values []string) {
	if found := lap.Record(id).Find(r); found != nil {
		for _, v := range found.Live {
			values = append(values, string(v.Data))
		}
	}
	return values
}

func (lap laptop) conflicts(id entry.RecordID) int { return len(lap.Record(id).Conflicts()) }

func (lap laptop) joined(a, b entry.RecordID) bool {
	g := lap.Groups()
	return g.Leader(a) == g.Leader(b)
}

// liveSet names each live value, without saying which one is shown.
func (lap laptop) liveSet() string {
	var lines []string
	for _, r := range lap.Records {
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
func (lap laptop) stored() string {
	var b strings.Builder
	for _, id := range slices.SortedFunc(maps.Keys(lap.Records), cmp.Compare) {
		if data := lap.Records[id].Encode(); !bytes.Equal(data, (&merge.Record{}).Encode()) {
			fmt.Fprintf(&b, "%s %x\n", id, data)
		}
	}
	return b.String()
}
