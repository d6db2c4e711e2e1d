package storage

import (
	"context"
	"encoding/binary"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Prefixed finds visible records whose id begins with these bytes, in the
// order of their ids. It looks through all records of the kind that the prefix
// names: people rarely type ids, and an index of them costs every catch-up.
func (s *Store) Prefixed(ctx context.Context, prefix string, limit int) ([]entry.RecordID, error) {
	if limit <= 0 {
		limit = -1
	}
	var kind entry.Kind
	if len(prefix) >= 3 {
		kind = entry.Kind(binary.BigEndian.Uint16([]byte(prefix[1:3])))
	}
	from, to := keysOf(kind)
	var found []entry.RecordID
	err := s.readers.bind(ctx)(func(scan func(...any) error) error {
		var id []byte
		err := scan(&id)
		found = append(found, entry.RecordID(id))
		return err
	}, `SELECT id FROM record WHERE n BETWEEN ? AND ? AND substr(id, 1, ?) = ? AND state IS NOT NULL AND visibility <> ?
		ORDER BY id LIMIT ?`, from, to, len(prefix), []byte(prefix), merge.Hidden, limit)
	return found, failure("find records by id", err)
}
