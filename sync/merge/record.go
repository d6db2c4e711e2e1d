package merge

import (
	"bytes"
	"cmp"
	"slices"
	"strings"

	"plumbline/sync/entry"
)

// Origin says which entry a value comes from.
type Origin struct {
	ID      entry.ID
	Lamport uint64
	Wall    int64  // milliseconds since 1970, for display only
	Source  string // the list it was imported from; empty for a person's own
}

// compare orders origins for display: by Lamport time, then by hash. Every
// laptop has the same order, and no clock has a say in it.
func (o *Origin) compare(other *Origin) int {
	return cmp.Or(
		cmp.Compare(o.Lamport, other.Lamport),
		bytes.Compare(o.ID.Hash[:], other.ID.Hash[:]),
		o.ID.Compare(other.ID),
	)
}

// Value is a live value: an applied write that no applied write replaces.
type Value struct {
	*Origin
	Op   entry.Op
	Data []byte
}

func (v Value) equal(other Value) bool { return v.Op == other.Op && bytes.Equal(v.Data, other.Data) }

// Register is the state of one field of a record, or of one key of a map.
type Register struct {
	entry.Register
	// Live holds the live values, the one to show first.
	Live []Value
	// Replaced holds the ids of all writes that applied writes replace, sorted,
	// whether they are held yet or not.
	Replaced []entry.ID
}

// Conflict reports whether live values differ. It stays until a person
// settles it with a write that replaces them all.
func (r *Register) Conflict() bool {
	for _, v := range r.Live {
		if !v.equal(r.Live[0]) {
			return true
		}
	}
	return false
}

// Shown returns the value to show; false when there is none or it is cleared.
func (r *Register) Shown() (Value, bool) {
	if len(r.Live) == 0 || r.Live[0].Op == entry.OpClear {
		return Value{}, false
	}
	return r.Live[0], true
}

// Record is the state of one record: a function of the set of applied entries
// on it, whatever the order in which they are applied.
type Record struct {
	ID        entry.RecordID
	Registers []*Register // by field, then key
	// Retirements and Keeps are the applied ones, in the order of display.
	Retirements []Retirement
	Keeps       []*Origin
}

// Write is one applied entry on a record.
type Write struct {
	Origin
	Body entry.Body
}

// Apply adds one entry. Applying an entry twice changes nothing.
func (r *Record) Apply(w Write) {
	origin := w.Origin
	origin.Source = w.Body.Source
	switch w.Body.Kind {
	case entry.KindChanges:
		changes := lastChanges(w.Body.Changes)
		if len(r.Registers) == 0 {
			r.begin(&origin, changes)
			return
		}
		for _, c := range changes {
			r.Register(c.Register).apply(&origin, c)
		}
	case entry.KindRetirement:
		r.retire(Retirement{Origin: &origin, Retirement: *w.Body.Retirement})
	case entry.KindKeep:
		r.keep(&origin)
	}
}

// Alone returns what the changes of one entry make of a record that has no others:
// the last one of each register, in the order of the registers.
func Alone(changes []entry.Change) []entry.Change {
	changes = lastChanges(changes)
	if ascend(changes) {
		return changes
	}
	changes = slices.Clone(changes)
	slices.SortFunc(changes, func(a, b entry.Change) int { return compareRegisters(a.Register, b.Register) })
	return changes
}

// begin applies the first changes, of one register each. Most records are
// written once: what they take is allocated in one piece, and put in order by
// what is small.
func (r *Record) begin(origin *Origin, changes []entry.Change) {
	registers, live := make([]Register, len(changes)), make([]Value, len(changes))
	r.Registers = make([]*Register, len(changes))
	for i, c := range changes {
		reg := &registers[i]
		reg.Register, reg.Live = c.Register, live[i:i:i+1]
		reg.apply(origin, c)
		r.Registers[i] = reg
	}
	if !ascend(changes) {
		slices.SortFunc(r.Registers, func(a, b *Register) int { return compareRegisters(a.Register, b.Register) })
	}
}

// lastChanges drops the changes that a later one of the same entry writes
// over: the last one counts. An entry has room for thousands, so they aren't
// compared with each other.
func lastChanges(changes []entry.Change) []entry.Change {
	if ascend(changes) || len(changes) <= few && !repeats(changes) {
		return changes
	}
	last := make(map[entry.Register]int, len(changes))
	for i := range changes {
		last[changes[i].Register] = i
	}
	kept := make([]entry.Change, 0, len(last))
	for i, c := range changes {
		if last[c.Register] == i {
			kept = append(kept, c)
		}
	}
	return kept
}

// ascend reports whether each change is to a register after the one before.
func ascend(changes []entry.Change) bool {
	for i := 1; i < len(changes); i++ {
		if compareRegisters(changes[i-1].Register, changes[i].Register) >= 0 {
			return false
		}
	}
	return true
}

// few changes are compared faster than hashed, and most entries have few.
const few = 24

func repeats(changes []entry.Change) bool {
	for i := range changes {
		for j := range i {
			if changes[i].Register == changes[j].Register {
				return true
			}
		}
	}
	return false
}

// ApplyEdges marks values as replaced without putting one in their place. It
// is what is left of an erased entry.
func (r *Record) ApplyEdges(edges []entry.Edge) {
	for _, e := range edges {
		if len(e.Replaces) > 0 {
			r.Register(e.Register).replace(e.Replaces)
		}
	}
}

// Find returns the register, or nil when nothing was ever written to it.
func (r *Record) Find(reg entry.Register) *Register {
	if i, ok := r.search(reg); ok {
		return r.Registers[i]
	}
	return nil
}

// Register returns the register and makes it if need be.
func (r *Record) Register(reg entry.Register) *Register {
	i, ok := r.search(reg)
	if !ok {
		r.Registers = slices.Insert(r.Registers, i, &Register{Register: reg})
	}
	return r.Registers[i]
}

func (r *Record) search(reg entry.Register) (int, bool) {
	return slices.BinarySearchFunc(r.Registers, reg, func(have *Register, want entry.Register) int {
		return compareRegisters(have.Register, want)
	})
}

func compareRegisters(a, b entry.Register) int {
	keyed := func(k bool) int {
		if k {
			return 1
		}
		return 0
	}
	return cmp.Or(cmp.Compare(a.Field, b.Field), cmp.Compare(keyed(a.Keyed), keyed(b.Keyed)), strings.Compare(a.Key, b.Key))
}

// Conflicts returns the registers whose live values differ.
func (r *Record) Conflicts() []*Register {
	var conflicts []*Register
	for _, reg := range r.Registers {
		if reg.Conflict() {
			conflicts = append(conflicts, reg)
		}
	}
	return conflicts
}

// References returns the records that live values refer to, each once. Bytes
// that are no record's identifier refer to nothing.
func (r *Record) References() []entry.RecordID {
	var refs []entry.RecordID
	for _, reg := range r.Registers {
		for _, v := range reg.Live {
			refs = addReference(refs, v.Op, v.Data)
		}
	}
	return each(refs)
}

// ReferencesOf is [Record.References] for live values that stand alone.
func ReferencesOf(live []entry.Change) []entry.RecordID {
	var refs []entry.RecordID
	for _, c := range live {
		refs = addReference(refs, c.Op, c.Value)
	}
	return each(refs)
}

func addReference(refs []entry.RecordID, op entry.Op, data []byte) []entry.RecordID {
	if op == entry.OpReference {
		if id := entry.RecordID(data); id.Valid() {
			refs = append(refs, id)
		}
	}
	return refs
}

// each drops what is there already. Few are compared; for many that would take a
// time that grows with their square.
func each(ids []entry.RecordID) []entry.RecordID {
	var seen map[entry.RecordID]bool
	if len(ids) > few {
		seen = make(map[entry.RecordID]bool, len(ids))
	}
	kept := ids[:0]
	for _, id := range ids {
		if seen == nil && slices.Contains(kept, id) || seen[id] {
			continue
		}
		if kept = append(kept, id); seen != nil {
			seen[id] = true
		}
	}
	return kept
}

func (r *Register) apply(origin *Origin, c entry.Change) {
	if r.replace(c.Replaces); len(r.Live) == 0 && len(r.Replaced) == 0 {
		r.Live = append(r.Live, Value{Origin: origin, Op: c.Op, Data: c.Value})
		return
	}
	if _, gone := slices.BinarySearchFunc(r.Replaced, origin.ID, entry.ID.Compare); gone {
		return
	}
	v := Value{Origin: origin, Op: c.Op, Data: c.Value}
	// Highest first, so that the value to show is at the front.
	i, held := slices.BinarySearchFunc(r.Live, v, func(have, want Value) int { return want.compare(have.Origin) })
	if !held {
		r.Live = slices.Insert(r.Live, i, v)
	}
}

func (r *Register) replace(ids []entry.ID) {
	for _, id := range ids {
		i, have := slices.BinarySearchFunc(r.Replaced, id, entry.ID.Compare)
		if !have {
			r.Replaced = slices.Insert(r.Replaced, i, id)
		}
	}
	if len(ids) > 0 {
		r.Live = slices.DeleteFunc(r.Live, func(v Value) bool { return slices.Contains(ids, v.ID) })
	}
}
