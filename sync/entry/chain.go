package entry

import (
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/binary"
)

// Origin is the running hash before a log's first entry. It binds every log
// to its staff.
func Origin(staff StaffID) Hash {
	return sha256.Sum256(append([]byte("plumbline log v1\x00"), staff[:]...))
}

// Next is the running hash after one more header:
// h(n) = SHA-256(h(n−1) ‖ length ‖ header), the length in four bytes, big end
// first. It is recomputed by each receiver and never sent.
func (h Hash) Next(header []byte) Hash {
	var buf [36 + 128]byte
	b := append(buf[:0], h[:]...)
	b = binary.BigEndian.AppendUint32(b, uint32(len(header)))
	return sha256.Sum256(append(b, header...))
}

// Short returns the part of the hash that stands in an [ID].
func (h Hash) Short() [16]byte { return [16]byte(h[:16]) }

// LogOf returns the identifier of the log whose first entry has this hash.
func LogOf(first Hash) LogID { return LogID(first[:16]) }

// Point is a place in a log: the running hash after Seq entries.
type Point struct {
	Seq  uint64
	Hash Hash
}

// ID names the entry at the point.
func (p Point) ID(log LogID) ID { return ID{Log: log, Seq: p.Seq, Hash: p.Hash.Short()} }

// SignedPoint is a point with its device's signature. One of them vouches for
// everything before it, since the hash does.
type SignedPoint struct {
	Point
	Signature []byte
}

// PointSpacing is how many bytes of entries may lie between two signed points.
const PointSpacing = 128 << 10

func pointMessage(staff StaffID, log LogID, p Point) []byte {
	b := make([]byte, 0, 96)
	b = append(b, "plumbline signed point v1\x00"...)
	b = append(b, staff[:]...)
	b = append(b, log[:]...)
	b = binary.BigEndian.AppendUint64(b, p.Seq)
	return append(b, p.Hash[:]...)
}

// SignPoint signs a point of a log.
func SignPoint(key ed25519.PrivateKey, staff StaffID, log LogID, p Point) SignedPoint {
	return SignedPoint{Point: p, Signature: ed25519.Sign(key, pointMessage(staff, log, p))}
}

// Signed reports whether the device made the point's signature.
func (p SignedPoint) Signed(device ed25519.PublicKey, staff StaffID, log LogID) bool {
	return len(device) == ed25519.PublicKeySize && ed25519.Verify(device, pointMessage(staff, log, p.Point), p.Signature)
}
