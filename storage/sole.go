package storage

import (
	"fmt"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Most records are written once and never again. The state of one that a single
// applied entry makes up isn't stored beside that entry: the row names it, and
// whoever reads the record folds it. The index of a record's entries holds only
// the others.

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

// soleRow is the row of an entry that makes up a record: applied, of changes,
// sole. Most are, and what all of them have in common isn't handed over.
var soleRow = fmt.Sprintf("(?, ?, ?, %d, %d, 1, ?, ?)", merge.Applied, entry.KindChanges)

// entriesOf selects the entries of the record with this number, ?1.
const entriesOf = `SELECT n FROM entry WHERE record = ?1 AND sole = 0
	UNION ALL SELECT state FROM record WHERE n = ?1 AND typeof(state) = 'integer'`

// mark brings up to date which entry's row says that it is sole. What was
// inserted must be there.
func (d *draft) mark(f *folding) error {
	if f.marked == f.sole {
		return nil
	}
	for _, e := range []struct {
		n  entryKey
		is int
	}{{f.marked, 0}, {f.sole, 1}} {
		if e.n == 0 {
			continue
		}
		if err := d.w.exec("UPDATE entry SET sole = ? WHERE n = ?", e.is, e.n); err != nil {
			return err
		}
	}
	f.marked = f.sole
	return nil
}

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
