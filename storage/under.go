package storage

import (
	"context"
	"errors"

	"plumbline/sync/entry"
)

// Under reads all that refers to a record by live values, in one step or
// several, hidden records too; the record itself only if it refers to itself in
// a circle. One query for all of it: a season's reps are too many to be asked
// for one by one.
func (s *Store) Under(ctx context.Context, id entry.RecordID) ([]Row, error) {
	n, err := s.numberOf(ctx, id)
	if errors.Is(err, ErrNoRecord) {
		return nil, nil
	}
	if err != nil {
		return nil, failure("read what refers to a record", err)
	}
	var rows []Row
	err = s.readers.bind(ctx).records(func(r stored) error {
		rows = append(rows, r.Row)
		return nil
	}, `WHERE r.state IS NOT NULL AND r.n IN (WITH RECURSIVE under (n) AS (
		SELECT source FROM ref WHERE target = ? UNION SELECT source FROM ref JOIN under ON target = n)
		SELECT n FROM under) ORDER BY r.n`, n)
	return rows, failure("read what refers to a record", err)
}
