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

// numberByID selects the number of a record by what byID gives.
const numberByID = "SELECT r.n FROM record_key k CROSS JOIN record r ON r.n = k.n WHERE k.key = ? AND r.id = ?"

func byID(id entry.RecordID) []any { return []any{idKey(id), []byte(id)} }

// numberOf returns the number of a record; false when there is none.
func (q querier) numberOf(id entry.RecordID) (n recordKey, held bool, err error) {
	held, err = q.one(numberByID, byID(id), &n)
	return n, held, err
}
