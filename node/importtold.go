package node

import (
	"slices"

	"plumbline/node/importer"
	"plumbline/sync/entry"
)

// How many records an import tells of: those that are there already are what a
// person looks at, of the new ones a few show that the columns are the right ones.
const (
	maxToldChanged = 200
	maxToldAdded   = 50
)

// telling gathers what an import makes of one record; nil once there are enough.
type telling struct {
	b    *importing
	id   entry.RecordID
	told ImportedRecord
}

func (b *importing) telling(p importer.Proposal, id entry.RecordID, exists bool) *telling {
	if exists && b.told[true] >= maxToldChanged || !exists && b.told[false] >= maxToldAdded {
		return nil
	}
	t := &telling{b: b, id: id, told: ImportedRecord{Line: p.Line, Kind: kindName(id), Title: b.words(p), Added: !exists}}
	if exists {
		t.told.Title = b.title(id)
	}
	return t
}

// field tells of one value. References only say where a record belongs.
func (t *telling) field(f importer.FieldValue, over stood) {
	if t == nil || f.IsRef() {
		return
	}
	text, err := f.Register.Text(f.Value)
	if err != nil {
		t.b.fail(err)
	}
	told := ImportedField{Name: f.Register.Path(), Before: over.before, After: text, Beside: over.beside}
	t.told.Fields = append(t.told.Fields, told)
}

func (t *telling) done(changed bool) {
	if t == nil || !changed {
		return
	}
	t.b.told[!t.told.Added]++
	t.b.report.Records = append(t.b.report.Records, t.told)
}

// weight puts what a person has to settle first, and what is new last.
func weight(r ImportedRecord) int {
	switch {
	case r.Added:
		return 2
	case slices.ContainsFunc(r.Fields, func(f ImportedField) bool { return f.Beside }):
		return 0
	}
	return 1
}
