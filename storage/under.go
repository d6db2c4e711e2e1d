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
	var rows []Row
	err := s.eachUnder(ctx, id, func(q querier, where string, args ...any) error {
		return q.records(func(r stored) error {
			rows = append(rows, r.Row)
			return nil
		}, where, args...)
	})
	return rows, err
}

// ShownUnder is [Store.Under] for who asks no more of a record than what it shows,
// without those that have no value. What is called with each must not call the store.
func (s *Store) ShownUnder(ctx context.Context, id entry.RecordID, each func(Shown)) error {
	return s.eachUnder(ctx, id, func(q querier, where string, args ...any) error {
		return q.shown(func(_ Number, is Shown) error {
			each(is)
			return nil
		}, where, args...)
	})
}

func (s *Store) eachUnder(ctx context.Context, id entry.RecordID, read func(q querier, where string, args ...any) error) error {
	n, err := s.numberOf(ctx, id)
	if errors.Is(err, ErrNoRecord) {
		return nil
	}
	if err != nil {
		return failure("read what refers to a record", err)
	}
	err = s.readers.snapshot(ctx, func(q querier) error {
		all, err := q.under(n)
		for _, some := range all {
			if err != nil {
				break
			}
			err = read(q, "WHERE r.state IS NOT NULL AND r.n >= ? AND r.n < ? ORDER BY r.n", some.first, some.end)
		}
		return err
	})
	return failure("read what refers to a record", err)
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
