package entry

import (
	"crypto/ed25519"
	"crypto/sha256"
	"fmt"
	"io"
)

// Writer builds the entries of one log. It holds no state beyond the tip: what
// it returns is written nowhere until the caller stores it.
type Writer struct {
	Staff StaffID
	Log   LogID
	Key   ed25519.PrivateKey
	// Tip is the last entry of the log, Lamport its time.
	Tip     Point
	Lamport uint64
	// Random gives salts and nonces.
	Random io.Reader
}

// Open starts a new log: its first entry names the device, its certificate
// and whether it is a control log. The writer then appends to that log.
func (w *Writer) Open(control bool, certificate []byte, held uint64, wall int64) (Entry, error) {
	g := Genesis{Control: control, Device: w.Key.Public().(ed25519.PublicKey), Certificate: certificate}
	if _, err := io.ReadFull(w.Random, g.Nonce[:]); err != nil {
		return Entry{}, fmt.Errorf("read randomness: %w", err)
	}
	w.Tip, w.Lamport = Point{Hash: Origin(w.Staff)}, 0
	e, err := w.Append("", Body{Kind: KindGenesis, Genesis: &g}, held, wall)
	w.Log = LogOf(e.Hash)
	return e, err
}

// Append builds the next entry. held is the highest Lamport time that the
// laptop holds; wall is its clock in milliseconds since 1970.
func (w *Writer) Append(record RecordID, body Body, held uint64, wall int64) (Entry, error) {
	if _, err := io.ReadFull(w.Random, body.Salt[:]); err != nil {
		return Entry{}, fmt.Errorf("read randomness: %w", err)
	}
	h := Header{Lamport: NextLamport(w.Lamport, held), Wall: wall, Record: record}
	raw := Raw{Body: body.encode()}
	h.Body = sha256.Sum256(raw.Body)
	raw.Header = h.encode()
	if raw.Size() > MaxSize {
		return Entry{}, fmt.Errorf("%w: %d bytes, at most %d: shorten the text or save it in parts", ErrTooLarge, raw.Size(), MaxSize)
	}
	w.Tip = Point{Seq: w.Tip.Seq + 1, Hash: w.Tip.Hash.Next(raw.Header)}
	w.Lamport = h.Lamport
	return Entry{Raw: raw, Point: w.Tip, Header: h}, nil
}

// Sign vouches for the tip.
func (w *Writer) Sign() SignedPoint { return SignPoint(w.Key, w.Staff, w.Log, w.Tip) }

// NextLamport returns the time of an entry that follows one of time previous
// (0 before the first) on a laptop that holds nothing above held. It never
// steps further than receivers allow.
func NextLamport(previous, held uint64) uint64 {
	return min(max(held, previous)+1, previous+LamportStep)
}
