package storage

import (
	"fmt"
	"iter"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Shown is a record's values without who wrote them, when, and what they replaced:
// all that lists, figures and the search index ask of a great many records, for
// about half of what reading a [Row] takes.
type Shown struct {
	ID         entry.RecordID
	Visibility merge.Visibility
	// Conflicts is how many registers are in conflict.
	Conflicts int
	// Live holds the live values, those of a register together and the one to show
	// first, cleared ones too. What they replaced isn't in there.
	Live []entry.Change
}

// shown reads what records show, those without a value left out. The numbers of a
// row come as one: each column costs by itself, however small it is.
func (q querier) shown(each func(Number, Shown) error, where string, args ...any) error {
	var n Number
	var id, data []byte
	var numbers int64
	return q(func(scan func(...any) error) error {
		err := scan(&n, &id, &numbers, &data)
		is := Shown{ID: entry.RecordID(id), Visibility: merge.Visibility(numbers >> 1), Conflicts: int(numbers >> 9)}
		if err == nil {
			is.Live, err = liveOf(is.ID, numbers&1 != 0, data)
		}
		if err != nil {
			return fmt.Errorf("%w (%w)", ErrCorrupt, err)
		}
		if len(is.Live) == 0 {
			return nil
		}
		return each(n, is)
	}, "SELECT r.n, r.id, (r.conflicts << 9) | (r.visibility << 1) | (e.n IS NOT NULL), coalesce(e.body, r.state) FROM record r"+sole+where, args...)
}

// liveOf reads the live values of a record from the one entry that makes it up, of
// which nothing replaces anything, or from its state.
func liveOf(id entry.RecordID, alone bool, data []byte) ([]entry.Change, error) {
	if alone {
		return merge.Alone(readBody(data).Changes), nil
	}
	r, err := merge.Decode(id, data)
	if err != nil {
		return nil, err
	}
	return liveValues(r), nil
}

// liveValues returns a record's as [Shown] has them.
func liveValues(r *merge.Record) (live []entry.Change) {
	for _, reg := range r.Registers {
		for _, v := range reg.Live {
			live = append(live, entry.Change{Register: reg.Register, Op: v.Op, Value: v.Data})
		}
	}
	return live
}

// Values goes through the values to show, one of a register: none where it is cleared.
func (s Shown) Values() iter.Seq[entry.Change] {
	return func(yield func(entry.Change) bool) {
		for i, c := range s.Live {
			if c.Op == entry.OpClear || i > 0 && s.Live[i-1].Register == c.Register {
				continue
			}
			if !yield(c) {
				return
			}
		}
	}
}

// Value returns what a register shows; false when that is nothing.
func (s Shown) Value(reg entry.Register) (entry.Change, bool) {
	for v := range s.Values() {
		if v.Register == reg {
			return v, true
		}
	}
	return entry.Change{}, false
}

// References returns the records that live values refer to, each once.
func (s Shown) References() []entry.RecordID { return merge.ReferencesOf(s.Live) }
