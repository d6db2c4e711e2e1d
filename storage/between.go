package storage

import (
	"context"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Between finds the records of one kind, that which both ids name, whose ids lie from
// one to the other: visible ones first, then in the order of their ids. It looks
// through all records of the kind: people rarely type ids, and an index of them costs
// every catch-up.
func (s *Store) Between(ctx context.Context, first, last entry.RecordID, limit int) ([]entry.RecordID, error) {
	if limit <= 0 {
		limit = -1
	}
	from, to := keysOf(first.Kind())
	var found []entry.RecordID
	err := s.readers.bind(ctx)(func(scan func(...any) error) error {
		var id []byte
		err := scan(&id)
		found = append(found, entry.RecordID(id))
		return err
	}, `SELECT id FROM record WHERE n BETWEEN ? AND ? AND id BETWEEN ? AND ? AND state IS NOT NULL
		ORDER BY visibility = ?, id LIMIT ?`, from, to, []byte(first), []byte(last), merge.Hidden, limit)
	return found, failure("find records by id", err)
}
