package sim

import (
	"slices"

	"plumbline/node/record"
	"plumbline/sync/entry"
)

// The records of a world: prospects, an assignment, and for each of the first people a
// look at a prospect and two reps. All are invented.
const prospects = 4

func (w *World) drawRecords() []entry.RecordID {
	var ids []entry.RecordID
	shared := func(n byte) entry.RecordID {
		return entry.NewRecordID(entry.Shared, record.Prospect, entry.PersonID{}, [16]byte{n})
	}
	for n := range byte(prospects) {
		ids = append(ids, shared(n+1))
	}
	ids = append(ids, entry.NewRecordID(entry.Directors, record.Assignment, entry.PersonID{}, [16]byte{1}))
	for _, l := range w.laptops[:min(3, len(w.laptops))] {
		for n, kind := range []entry.Kind{record.Look, record.Rep, record.Rep} {
			ids = append(ids, entry.NewRecordID(entry.Owned, kind, l.person, [16]byte{byte(n + 1)}))
		}
	}
	return ids
}

// registers that people write to: two fields and two keys of a third.
var registers = []entry.Register{{Field: 1}, {Field: 2}, {Field: 7, Keyed: true, Key: "anchor"}, {Field: 7, Keyed: true, Key: ""}}

// meet adds a record to those of the world.
func (w *World) meet(id entry.RecordID) {
	if !slices.Contains(w.records, id) {
		w.records = append(w.records, id)
		clear(w.models) // they don't speak of it
	}
}
