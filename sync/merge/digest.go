package merge

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"math/bits"
	"slices"

	"plumbline/sync/entry"
	"plumbline/sync/wire"
)

// Rules is the version of the rules by which entries are folded. It goes into
// every state hash, so that two programs that fold differently never take
// their states for equal.
//
//	1, 2026-11: first rules.
const Rules = 1

// StateHash is a sum over all records of a hash of their live values. Laptops
// that hold the same entries have the same one. It is kept up with each fold:
// take out what a record was, put in what it is.
type StateHash [4]uint64

// Digest hashes which values are live in each register of the record. A
// record without any adds nothing to the sum.
func (r *Record) Digest() StateHash {
	b := make([]byte, 0, 512)
	b = append(b, "plumbline state v1\x00"...)
	b = binary.AppendUvarint(b, Rules)
	b = wire.AppendBytes(b, r.ID)
	any := false
	ids := make([]entry.ID, 0, 4)
	for _, reg := range r.Registers {
		if len(reg.Live) == 0 {
			continue
		}
		any = true
		ids = ids[:0]
		for _, v := range reg.Live {
			ids = append(ids, v.ID)
		}
		slices.SortFunc(ids, entry.ID.Compare)
		b = binary.AppendUvarint(b, uint64(reg.Field))
		b = append(b, boolByte(reg.Keyed))
		b = wire.AppendBytes(b, reg.Key)
		b = entry.AppendIDs(b, ids)
	}
	if !any {
		return StateHash{}
	}
	return hashWords(sha256.Sum256(b))
}

func boolByte(v bool) byte {
	if v {
		return 1
	}
	return 0
}

func hashWords(sum [32]byte) (h StateHash) {
	for i := range h {
		h[i] = binary.BigEndian.Uint64(sum[8*i:])
	}
	return h
}

// Add returns the sum of both, modulo 2²⁵⁶.
func (h StateHash) Add(other StateHash) StateHash {
	var carry uint64
	for i := len(h) - 1; i >= 0; i-- {
		h[i], carry = bits.Add64(h[i], other[i], carry)
	}
	return h
}

// Sub takes out what Add put in.
func (h StateHash) Sub(other StateHash) StateHash {
	var borrow uint64
	for i := len(h) - 1; i >= 0; i-- {
		h[i], borrow = bits.Sub64(h[i], other[i], borrow)
	}
	return h
}

// Bytes returns the hash as 32 bytes.
func (h StateHash) Bytes() (b [32]byte) {
	for i, w := range h {
		binary.BigEndian.PutUint64(b[8*i:], w)
	}
	return b
}

// StateHashOf reads what Bytes gave.
func StateHashOf(b [32]byte) StateHash { return hashWords(b) }

func (h StateHash) String() string { b := h.Bytes(); return hex.EncodeToString(b[:]) }
