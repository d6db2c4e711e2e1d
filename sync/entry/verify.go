package entry

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"errors"
	"fmt"
)

// LamportStep is how far the Lamport time may rise from one entry of a log to
// the next, so that a hostile device can't push everybody's to the end.
const LamportStep = 1 << 32

// Reasons to refuse a run. Nothing of a refused run is kept.
var (
	// ErrUnsigned is returned when a run doesn't end at a point that its
	// device signed, or carries a signature that doesn't hold.
	ErrUnsigned = errors.New("not signed by the log's device")
	// ErrLamport is returned when a Lamport time doesn't rise, or jumps.
	ErrLamport = errors.New("the Lamport time doesn't rise step by step")
	// ErrDigest is returned when a body isn't the one its header names.
	ErrDigest = errors.New("the body isn't the one that was signed")
	// ErrTooLarge is returned for an entry beyond [MaxSize].
	ErrTooLarge = errors.New("entry too large")
)

// Source is what a receiver knows of the place where a run attaches.
type Source struct {
	Staff StaffID
	Log   LogID
	// Device is the log's public key; empty when the run starts the log,
	// whose first entry then tells it.
	Device  ed25519.PublicKey
	After   Point
	Lamport uint64
}

// Verify checks raw entries that follow a known point and returns them as a
// run: hashes recomputed, bodies matched, Lamport times rising, every signed
// point held against the device's key, the last entry vouched for.
func Verify(src Source, raws []Raw, points []SignedPoint) (Run, error) {
	run := Run{Log: src.Log, After: src.After, Lamport: src.Lamport, Points: points}
	run.Entries = make([]Entry, 0, len(raws))
	at, lamport := src.After, src.Lamport
	for _, raw := range raws {
		e, err := next(at, lamport, raw)
		if err != nil {
			return Run{}, fmt.Errorf("log %s, entry %d: %w", src.Log, at.Seq+1, err)
		}
		run.Entries = append(run.Entries, e)
		at, lamport = e.Point, e.Header.Lamport
	}
	device, err := src.device(run)
	if err != nil {
		return Run{}, err
	}
	return run, src.vouched(run, device)
}

func next(at Point, lamport uint64, raw Raw) (Entry, error) {
	if raw.Size() > MaxSize {
		return Entry{}, fmt.Errorf("%w: %d bytes, at most %d", ErrTooLarge, raw.Size(), MaxSize)
	}
	h, err := DecodeHeader(raw.Header)
	if err != nil {
		return Entry{}, err
	}
	if sha256.Sum256(raw.Body) != h.Body {
		return Entry{}, ErrDigest
	}
	if h.Lamport <= lamport || h.Lamport-lamport > LamportStep {
		return Entry{}, fmt.Errorf("%w: %d after %d", ErrLamport, h.Lamport, lamport)
	}
	return Entry{Raw: raw, Point: Point{Seq: at.Seq + 1, Hash: at.Hash.Next(raw.Header)}, Header: h}, nil
}

// device returns the key that must have signed the run: the log's known one,
// or the one in its first entry, whose hash is the log's identifier.
func (src Source) device(run Run) (ed25519.PublicKey, error) {
	if src.After.Seq > 0 || len(run.Entries) == 0 {
		return src.Device, nil
	}
	first := run.Entries[0]
	if LogOf(first.Hash) != src.Log || src.After.Hash != Origin(src.Staff) {
		return nil, fmt.Errorf("log %s: %w: the first entry belongs to another log or staff", src.Log, ErrMalformed)
	}
	body, err := DecodeBody(first.Body)
	if err != nil {
		return nil, fmt.Errorf("log %s, entry 1: %w", src.Log, err)
	}
	if body.Kind != KindGenesis || len(body.Genesis.Device) != ed25519.PublicKeySize {
		return nil, fmt.Errorf("log %s: %w: the first entry doesn't say whose log it is", src.Log, ErrMalformed)
	}
	return body.Genesis.Device, nil
}

func (src Source) vouched(run Run, device ed25519.PublicKey) error {
	last := false
	for _, p := range run.Points {
		i := p.Seq - src.After.Seq - 1 // wraps below the run, and is then too large
		if i >= uint64(len(run.Entries)) || !bytes.Equal(run.Entries[i].Hash[:], p.Hash[:]) || !p.Signed(device, src.Staff, src.Log) {
			return fmt.Errorf("log %s, point %d: %w", src.Log, p.Seq, ErrUnsigned)
		}
		last = last || i == uint64(len(run.Entries))-1
	}
	if !last && len(run.Entries) > 0 {
		return fmt.Errorf("log %s, entry %d: %w", src.Log, run.Tip().Seq, ErrUnsigned)
	}
	return nil
}
