package node

import (
	"bytes"
	"fmt"

	"plumbline/node/importer"
	"plumbline/sync/entry"
)

// A list that was exported before two of its prospects were said to be one has a row for
// each. Both are about all that is one now: together they may edit it, as long as they
// don't say different things of one field.

// joinedRows are the rows that gave their records, by who speaks for these.
type joinedRows struct {
	given map[entry.RecordID]bool
	edits map[rowField]edit
}

// rowField is a field of what a row is about, and edit what the row makes of it.
type rowField struct {
	leader   entry.RecordID
	register entry.Register
}

type edit struct {
	line int
	says []byte
}

// alsoGiven reports whether a row gives its record, as the first row about it did.
func (j *joinedRows) alsoGiven(p importer.Proposal, leader entry.RecordID, first bool) bool {
	if first && p.Record != "" {
		if j.given == nil {
			j.given = map[entry.RecordID]bool{}
		}
		j.given[leader] = true
	}
	return p.Record != "" && j.given[leader]
}

// earlier finds what a row above made of a field; same if that is what this one says.
func (j *joinedRows) earlier(p importer.Proposal, g group, f importer.FieldValue) (line int, same bool) {
	before, ok := j.edits[rowField{g.leader, f.Register.Address()}]
	if !ok || p.Record == "" || f.IsRef() {
		return 0, false
	}
	return before.line, bytes.Equal(before.says, f.Value.Bytes)
}

// note keeps what a row that is taken makes of its fields. What one that was left out
// would have made of them is nobody's word.
func (j *joinedRows) note(p importer.Proposal, leader entry.RecordID, changes []placed) {
	if p.Record == "" {
		return
	}
	if j.edits == nil {
		j.edits = map[rowField]edit{}
	}
	for _, c := range changes {
		if c.Op == entry.OpValue {
			j.edits[rowField{leader, c.Register}] = edit{p.Line, c.Value}
		}
	}
}

// refuseEdit tells of a field of which a row above says something else.
func (b *importing) refuseEdit(p importer.Proposal, f importer.FieldValue, line int) {
	b.refuseCell(p, f, fmt.Sprintf("line %d says something else about the same %s, since the two were joined; leave one of them as it was", line, kindOr(p.Kind, "record")))
}
