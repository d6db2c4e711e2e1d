package storage

import (
	"context"
	"fmt"
	"iter"
	"slices"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Row is a record as it is stored.
type Row struct {
	*merge.Record
	Info Info
}

// Info is what is known of a record besides its values.
type Info struct {
	Visibility merge.Visibility
	// Conflicts is how many registers are in conflict.
	Conflicts int
	// Lamport is the highest time of an entry applied to the record.
	Lamport uint64
}

// Query selects records.
type Query struct {
	// Kind is what the records are; 0 for any.
	Kind entry.Kind
	// Hidden includes records that are retired.
	Hidden bool
	// Conflicted selects only records with a register in conflict.
	Conflicted bool
	// Disputed selects only records that are retired and written to since.
	Disputed bool
	// After continues behind this record, in the order of the database.
	After entry.RecordID
	// Limit ends after so many; 0 for no end.
	Limit int
}

// where is the condition by which rows are selected. Each form is constant
// text, so that its statement is prepared once.
func (q Query) where() string {
	where := "WHERE r.state IS NOT NULL AND r.n BETWEEN ? AND ?"
	if q.Disputed {
		where += fmt.Sprintf(" AND r.retirements > 0 AND r.visibility = %d", merge.Disputed)
	} else if !q.Hidden {
		where += fmt.Sprintf(" AND r.visibility <> %d", merge.Hidden)
	}
	if q.Conflicted {
		where += " AND r.conflicts > 0"
	}
	return where + " ORDER BY r.n LIMIT ?"
}

// live reports whether a record has a value; one that was only retired, or of
// which everything was erased, has none.
func live(r *merge.Record) bool {
	return slices.ContainsFunc(r.Registers, func(reg *merge.Register) bool { return len(reg.Live) > 0 })
}

// Record reads one record, hidden or not; ErrNoRecord when it has no value.
func (s *Store) Record(ctx context.Context, id entry.RecordID) (Row, error) {
	var row Row
	number, args := s.held.Load().byID(id)
	err := s.readers.bind(ctx).records(func(r stored) error {
		row = r.Row
		return nil
	}, "WHERE r.state IS NOT NULL AND r.n = ("+number+")", args...)
	if err != nil {
		return Row{}, failure("read record", err)
	}
	if row.Record == nil || !live(row.Record) {
		return Row{}, fmt.Errorf("record %s: %w", id, ErrNoRecord)
	}
	return row, nil
}

// pageSize is how many records are read at once. A page is in memory before
// the caller sees any of it: no read stays open while the caller goes on.
const pageSize = 512

// Records reads records in the order in which this database met them. Each
// page is of its own moment: a record that changes meanwhile is seen as it was
// or as it is, and none is left out.
func (s *Store) Records(ctx context.Context, q Query) iter.Seq2[Row, error] {
	return func(yield func(Row, error) bool) {
		from, to := keysOf(q.Kind)
		if q.After != "" {
			after, err := s.numberOf(ctx, q.After)
			if err != nil {
				yield(Row{}, err)
				return
			}
			from = after + 1
		}
		given := 0
		for {
			page, err := s.page(ctx, q, from, to)
			if err != nil {
				yield(Row{}, failure("read records", err))
				return
			}
			for _, r := range page {
				if !live(r.Record) {
					continue
				}
				if given++; !yield(r.Row, nil) || given == q.Limit {
					return
				}
			}
			if len(page) < pageSize {
				return
			}
			from = page[len(page)-1].n + 1
		}
	}
}

func (s *Store) page(ctx context.Context, q Query, from, to recordKey) ([]stored, error) {
	var page []stored
	last := from - 1
	err := s.readers.bind(ctx).records(func(r stored) error {
		page = append(page, r)
		return onward(&last, r.n)
	}, q.where(), from, to, pageSize)
	return page, err
}

// numberOf returns the row of a record that is known.
func (s *Store) numberOf(ctx context.Context, id entry.RecordID) (n recordKey, err error) {
	n, held, err := s.held.Load().numberOf(s.readers.bind(ctx), id)
	if err == nil && !held {
		err = fmt.Errorf("record %s: %w", id, ErrNoRecord)
	}
	return n, err
}

// Referring reads the records of one kind (0: of any) that refer to a record
// by a live value, hidden ones too.
func (s *Store) Referring(ctx context.Context, id entry.RecordID, kind entry.Kind) ([]Row, error) {
	from, to := keysOf(kind)
	number, args := s.held.Load().byID(id)
	var rows []Row
	err := s.readers.bind(ctx).records(func(r stored) error {
		rows = append(rows, r.Row)
		return nil
	}, `WHERE r.state IS NOT NULL AND r.n IN (SELECT x.n FROM ref CROSS JOIN record x ON x.n BETWEEN source AND source + count - 1
		WHERE target = (`+number+`) AND source BETWEEN ? AND ?) ORDER BY r.n`, append(args, from, to)...)
	return rows, failure("read referring records", err)
}
