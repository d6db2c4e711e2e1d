package storage

import (
	"crypto/sha256"
	"encoding/binary"
	"strings"

	"plumbline/sync/entry"
)

// marks stands for so many arguments in a list.
func marks(n int) string { return "?" + strings.Repeat(", ?", n-1) }

// idKey is what a record is found by. Two ids of one key are as unlikely as
// they are harmless: whoever looks compares the ids too.
func idKey(id entry.RecordID) int64 {
	sum := sha256.Sum256([]byte(id))
	return int64(binary.BigEndian.Uint64(sum[:8]))
}

const numberByKey = "SELECT r.n FROM record_key k CROSS JOIN record r ON r.n = k.n WHERE k.key = ? AND r.id = ?"

// byID selects the number of a record; no row, or NULL where a value stands,
// when there is none.
func (m *memory) byID(id entry.RecordID) (text string, args []any) {
	key := idKey(id)
	text, args = numberByKey, []any{key, []byte(id)}
	if found := m.unkeyed.find(key); len(found) > 0 {
		text = "SELECT n FROM record WHERE n IN (" + marks(len(found)) + ") AND id = ? UNION ALL " + text
		args = append(append(found, []byte(id)), args...)
	}
	return text, args
}

// numberOf returns the number of a record; false when there is none.
func (m *memory) numberOf(q querier, id entry.RecordID) (n recordKey, held bool, err error) {
	text, args := m.byID(id)
	held, err = q.one(text, args, &n)
	return n, held, err
}
