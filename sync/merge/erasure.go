package merge

import "plumbline/sync/entry"

// Erasures holds what counted erasures name.
type Erasures struct {
	entries map[entry.ID]bool
	records map[entry.RecordID]bool
	edges   map[entry.RecordID][]entry.Edge
}

func (e *Erasures) add(body entry.Erasure) {
	if e.entries == nil {
		e.entries, e.records, e.edges = map[entry.ID]bool{}, map[entry.RecordID]bool{}, map[entry.RecordID][]entry.Edge{}
	}
	for _, x := range body.Entries {
		e.entries[x.ID] = true
		e.edges[x.Record] = append(e.edges[x.Record], x.Edges...)
	}
	for _, r := range body.Records {
		e.records[r] = true
	}
}

// Erases reports whether an entry folds as nothing. Control entries, first
// entries, retirements and same-as statements are never erased: others rest
// on them.
func (e Erasures) Erases(id entry.ID, record entry.RecordID, kind entry.BodyKind) bool {
	if kind != entry.KindChanges || record == "" || record.Kind() == entry.KindSameAs {
		return false
	}
	return e.entries[id] || e.records[record]
}

// Record reports whether the whole record is erased, later changes included.
func (e Erasures) Record(record entry.RecordID) bool { return e.records[record] }

// Edges returns which values of a record erased entries had replaced. They
// stay replaced, so that nothing older comes back.
func (e Erasures) Edges(record entry.RecordID) []entry.Edge { return e.edges[record] }

// Touched returns the records that erasures bear on.
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
