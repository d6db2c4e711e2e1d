package storage

import (
	"fmt"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Most records are written once and never again. The state of one that a single
// applied entry makes up isn't stored beside that entry: the row names it, and
// whoever reads the record folds it.

// entryRow is an entry as its row holds it.
type entryRow struct {
	n                  entryKey // 0 for none
	hash, header, body []byte
}

// soleEntry are the columns of the entry that a record's state comes from, if
// there is one. They are joined to its row by sole.
const (
	soleEntry = "coalesce(e.n, 0), e.hash, e.header, e.body"
	sole      = " LEFT JOIN entry e ON e.n = r.state "
)

func (e *entryRow) columns() []any { return []any{&e.n, &e.hash, &e.header, &e.body} }

// write reads the entry, which is of this log.
func (e *entryRow) write(log entry.LogID) (merge.Write, error) {
	h, err := entry.DecodeHeader(e.header)
	if err != nil {
		return merge.Write{}, fmt.Errorf("entry %v: %w (%w)", e.n.place(), ErrCorrupt, err)
	}
	origin := merge.Origin{ID: entryID(log, e.n.place().Seq, e.hash), Lamport: h.Lamport, Wall: h.Wall}
	return merge.Write{Origin: origin, Body: readBody(e.body)}, nil
}

// isSole reports whether a first write to a record is all of its state.
func isSole(r *merge.Record, kind entry.BodyKind) bool {
	return kind == entry.KindChanges && len(r.Registers) == 0
}
