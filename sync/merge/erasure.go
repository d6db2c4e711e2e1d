package merge

import (
	"maps"
	"slices"

	"plumbline/sync/entry"
)

// Erasures holds what counted erasures name.
type Erasures struct {
	entries map[erased]bool
	records map[entry.RecordID]bool
	edges   map[entry.RecordID][]entry.Edge
}

// erased names an entry together with its record. An erasure that gives another
// record than the entry's own erases nothing: what it touches must be known
// without the entry, which may not have arrived.
type erased struct {
	id     entry.ID
	record entry.RecordID
}

func (e *Erasures) add(body entry.Erasure) {
	if e.entries == nil {
		e.entries, e.records, e.edges = map[erased]bool{}, map[entry.RecordID]bool{}, map[entry.RecordID][]entry.Edge{}
	}
	for _, x := range body.Entries {
		if erasable(x.Record) {
			e.entries[erased{x.ID, x.Record}] = true
			e.edges[x.Record] = append(e.edges[x.Record], x.Edges...)
		}
	}
	for _, r := range body.Records {
		if erasable(r) {
			e.records[r] = true
		}
	}
}

// erasable reports whether a record's values can be erased at all. What stands
// in an erasure is read from a peer, so it may be no record id either.
func erasable(record entry.RecordID) bool {
	return record.Valid() && record.Kind() != entry.KindSameAs
}

// Erases reports whether an entry folds as nothing. Control entries, first
// entries, retirements and same-as statements are never erased: others rest
// on them.
func (e Erasures) Erases(id entry.ID, record entry.RecordID, kind entry.BodyKind) bool {
	return kind == entry.KindChanges && (e.entries[erased{id, record}] || e.records[record])
}

// Record reports whether the whole record is erased, later changes included.
func (e Erasures) Record(record entry.RecordID) bool { return e.records[record] }

// Edges returns which values of a record erased entries had replaced. They
// stay replaced, so that nothing older comes back.
func (e Erasures) Edges(record entry.RecordID) []entry.Edge { return e.edges[record] }

// Touched returns the records that erasures bear on. When the verdict changes,
// those of the old one and of the new one are folded again: an erasure may also
// have lost its standing.
func (e Erasures) Touched() map[entry.RecordID]bool {
	touched := map[entry.RecordID]bool{}
	for r := range e.records {
		touched[r] = true
	}
	for r := range e.edges {
		touched[r] = true
	}
	return touched
}

// Equal reports whether two verdicts erase the same, so that nothing need be
// folded again. A different order of edges counts as a difference: it costs a
// fold, nothing else.
func (e Erasures) Equal(other Erasures) bool {
	return maps.Equal(e.entries, other.entries) && maps.Equal(e.records, other.records) &&
		maps.EqualFunc(e.edges, other.edges, func(a, b []entry.Edge) bool { return slices.EqualFunc(a, b, equalEdge) })
}

func equalEdge(a, b entry.Edge) bool {
	return a.Register == b.Register && slices.Equal(a.Replaces, b.Replaces)
}
