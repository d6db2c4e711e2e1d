package storage

import (
	"context"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Prefixed finds visible records whose id begins with these bytes, in the
// order of their ids.
func (s *Store) Prefixed(ctx context.Context, prefix string, limit int) ([]entry.RecordID, error) {
	if limit <= 0 {
		limit = -1
	}
	var found []entry.RecordID
	// No id is longer than 64 bytes, so what begins with the prefix lies below
	// the prefix followed by that many of the highest byte.
	end := []byte(prefix)
	for range 64 {
		end = append(end, 0xff)
	}
	err := s.readers.bind(ctx).each(func(scan func(...any) error) error {
		var id []byte
		err := scan(&id)
		found = append(found, entry.RecordID(id))
		return err
	}, `SELECT id FROM record WHERE id >= ? AND id < ? AND state IS NOT NULL AND visibility <> ? ORDER BY id LIMIT ?`,
		[]byte(prefix), end, merge.Hidden, limit)
	return found, failure("find records by id", err)
}
