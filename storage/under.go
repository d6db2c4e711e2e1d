package storage

import (
	"context"
	"errors"

	"plumbline/sync/entry"
)

// Under reads all that refers to a record by live values, in one step or
// several, hidden records too; the record itself only if it refers to itself in
// a circle. A season's reps are too many to be asked for one by one.
func (s *Store) Under(ctx context.Context, id entry.RecordID) ([]Row, error) {
	n, err := s.numberOf(ctx, id)
	if errors.Is(err, ErrNoRecord) {
		return nil, nil
	}
	if err != nil {
		return nil, failure("read what refers to a record", err)
	}
	var rows []Row
	err = s.readers.snapshot(ctx, func(q querier) error {
		all, err := q.under(n)
		for _, some := range all {
			if err != nil {
				break
			}
			err = q.records(func(r stored) error {
				rows = append(rows, r.Row)
				return nil
			}, "WHERE r.state IS NOT NULL AND r.n >= ? AND r.n < ? ORDER BY r.n", some.first, some.end)
		}
		return err
	})
	return rows, failure("read what refers to a record", err)
}

// under returns the numbers of what refers to a record. It goes from run to run:
// what refers to one of many that were charted in one go lies together.
func (q querier) under(n recordKey) (stretches, error) {
	var found stretches
	err := q(func(scan func(...any) error) error {
		var first recordKey
		var count int
		err := scan(&first, &count)
		found = append(found, struct{ first, end recordKey }{first, first + recordKey(count)})
		return err
	}, `WITH RECURSIVE under (first, count) AS (SELECT source, count FROM ref WHERE target = ?
		UNION SELECT source, ref.count FROM under CROSS JOIN ref ON target BETWEEN first AND first + under.count - 1)
		SELECT first, count FROM under`, n)
	return found.disjoint(), err
}
