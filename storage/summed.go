package storage

import (
	"encoding/binary"
	"hash/crc32"
)

// What the caller made of records has no hash of the ledger behind it, and SQLite
// keeps none: a bit that turned in it would be shown until somebody verifies. So
// each row ends in a checksum over it and its place. One that doesn't fit, as of
// an older version's row, is taken for one to be made anew.

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

const sumSize = 4

func rowSum(data []byte, part string, n recordKey, mark Mark) uint32 {
	var place [16]byte
	binary.BigEndian.PutUint64(place[:], uint64(n))
	binary.BigEndian.PutUint64(place[8:], uint64(mark))
	sum := crc32.Checksum(place[:], castagnoli)
	return crc32.Update(crc32.Update(sum, castagnoli, []byte(part)), castagnoli, data)
}

func summed(data []byte, part string, n recordKey, mark Mark) []byte {
	return binary.BigEndian.AppendUint32(data[:len(data):len(data)], rowSum(data, part, n, mark))
}

// unsummed takes the checksum off; false if it doesn't fit.
func unsummed(stored []byte, part string, n recordKey, mark Mark) ([]byte, bool) {
	end := len(stored) - sumSize
	if end < 0 || binary.BigEndian.Uint32(stored[end:]) != rowSum(stored[:end], part, n, mark) {
		return nil, false
	}
	return stored[:end], true
}
