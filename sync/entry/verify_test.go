package entry

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"sort"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// written is a log of a first entry and a few changes, signed at its end and
// once before, and the place where it attaches.
type written struct {
	Writer
	src    Source
	raws   []Raw
	points []SignedPoint
}

func newKey(seed byte) ed25519.PrivateKey {
	return ed25519.NewKeyFromSeed(bytes.Repeat([]byte{seed}, ed25519.SeedSize))
}

func write(t interface{ Fatal(...any) }, staff StaffID, key ed25519.PrivateKey, entries int) *written {
	w := &written{Writer: Writer{Staff: staff, Key: key, Random: rand.NewChaCha8([32]byte{1})}}
	first, err := w.Open(false, []byte("certificate"), 0, 1000)
	if err != nil {
		t.Fatal(err)
	}
	w.raws = append(w.raws, first.Raw)
	for i := range entries {
		if i == entries/2 {
			w.points = append(w.points, w.Sign())
		}
		body := Body{Kind: KindChanges, Changes: []Change{{Register: Register{Field: uint32(i)}, Op: OpValue, Value: []byte("value")}}}
		e, err := w.Append(NewRecordID(Shared, 1, PersonID{}, [16]byte{byte(i)}), body, uint64(10*i), 1000)
		if err != nil {
			t.Fatal(err)
		}
		w.raws = append(w.raws, e.Raw)
	}
	w.points = append(w.points, w.Sign())
	w.src = Source{Staff: staff, Log: w.Log, After: Point{Hash: Origin(staff)}}
	return w
}

func TestVerifyReturnsTheRun(t *testing.T) {
	w := write(t, StaffID{1}, newKey(1), 6)
	run, err := Verify(w.src, w.raws, w.points)
	if err != nil {
		t.Fatal(err)
	}
	if len(run.Entries) != 7 || run.Tip() != w.Tip || run.Log != w.Log || run.After != w.src.After || len(run.Points) != 2 {
		t.Errorf("run %+v", run)
	}
	for i, e := range run.Entries {
		if e.Seq != uint64(i+1) || !bytes.Equal(e.Raw.Body, w.raws[i].Body) {
			t.Errorf("entry %d stands at %d", i+1, e.Seq)
		}
	}
	// In two pieces, cut where a signed point lies.
	cut := int(w.points[0].Seq)
	head, err := Verify(w.src, w.raws[:cut], w.points[:1])
	if err != nil {
		t.Fatal(err)
	}
	src := w.src
	src.After, src.Lamport, src.Device = head.Tip(), head.Entries[cut-1].Header.Lamport, w.Key.Public().(ed25519.PublicKey)
	tail, err := Verify(src, w.raws[cut:], w.points[1:])
	if err != nil || tail.Tip() != w.Tip {
		t.Errorf("the second piece ends at %d, %v", tail.Tip().Seq, err)
	}
}

// resigned makes a log in which one entry is replaced by whatever change
// makes of it, chained and signed anew: what a hostile device could send.
func resigned(w *written, i int, change func(h Header, body []byte) (Header, []byte)) ([]Raw, []SignedPoint) {
	raws := slices.Clone(w.raws)
	h, err := DecodeHeader(raws[i].Header)
	if err != nil {
		panic(err)
	}
	h, body := change(h, raws[i].Body)
	raws[i] = Raw{Header: h.encode(), Body: body}
	at := w.src.After
	for _, raw := range raws {
		at = Point{Seq: at.Seq + 1, Hash: at.Hash.Next(raw.Header)}
	}
	return raws, []SignedPoint{SignPoint(w.Key, w.Staff, w.Log, at)}
}

func TestVerifyRefuses(t *testing.T) {
	w := write(t, StaffID{1}, newKey(1), 6)
	other := write(t, StaffID{1}, newKey(2), 6)
	lamport := func(step func(before uint64) uint64) func(Header, []byte) (Header, []byte) {
		before, _ := DecodeHeader(w.raws[2].Header)
		return func(h Header, body []byte) (Header, []byte) {
			h.Lamport = step(before.Lamport)
			return h, body
		}
	}
	tests := map[string]struct {
		damage func(src *Source, raws *[]Raw, points *[]SignedPoint)
		err    error
	}{
		"no signed point":        {func(_ *Source, _ *[]Raw, p *[]SignedPoint) { *p = nil }, ErrUnsigned},
		"no signed point at end": {func(_ *Source, _ *[]Raw, p *[]SignedPoint) { *p = (*p)[:1] }, ErrUnsigned},
		"a point beyond the end": {func(_ *Source, r *[]Raw, _ *[]SignedPoint) { *r = (*r)[:6] }, ErrUnsigned},
		"a point before the start": {func(s *Source, r *[]Raw, p *[]SignedPoint) {
			run, _ := Verify(*s, *r, *p)
			s.After, s.Lamport, s.Device = run.Entries[4].Point, run.Entries[4].Header.Lamport, w.Key.Public().(ed25519.PublicKey)
			*r = (*r)[5:]
		}, ErrUnsigned},
		"an entry left out": {func(_ *Source, r *[]Raw, _ *[]SignedPoint) { *r = slices.Delete(*r, 3, 4) }, ErrUnsigned},
		"an entry twice":    {func(_ *Source, r *[]Raw, _ *[]SignedPoint) { *r = slices.Insert(*r, 3, (*r)[3]) }, ErrLamport},
		"entries swapped":   {func(_ *Source, r *[]Raw, _ *[]SignedPoint) { (*r)[3], (*r)[4] = (*r)[4], (*r)[3] }, ErrLamport},
		"another body":      {func(_ *Source, r *[]Raw, _ *[]SignedPoint) { (*r)[3].Body = (*r)[4].Body }, ErrDigest},
		"another device's signature": {func(s *Source, _ *[]Raw, p *[]SignedPoint) {
			*p = []SignedPoint{SignPoint(other.Key, s.Staff, s.Log, w.Tip)}
		}, ErrUnsigned},
		"another device than known": {func(s *Source, r *[]Raw, p *[]SignedPoint) {
			run, _ := Verify(*s, *r, *p)
			s.After, s.Lamport, s.Device = run.Entries[0].Point, 1, other.Key.Public().(ed25519.PublicKey)
			*r = (*r)[1:]
		}, ErrUnsigned},
		"another staff": {func(s *Source, _ *[]Raw, _ *[]SignedPoint) {
			s.Staff, s.After.Hash = StaffID{2}, Origin(StaffID{2})
		}, ErrMalformed},
		"another log":         {func(s *Source, _ *[]Raw, _ *[]SignedPoint) { s.Log = other.Log }, ErrMalformed},
		"another log's start": {func(_ *Source, r *[]Raw, _ *[]SignedPoint) { (*r)[0] = other.raws[0] }, ErrMalformed},
		"a first entry that names no device": {func(s *Source, r *[]Raw, p *[]SignedPoint) {
			*r = []Raw{w.raws[1]}
			h := s.After.Hash.Next(w.raws[1].Header)
			s.Log = LogOf(h)
			*p = []SignedPoint{SignPoint(w.Key, s.Staff, s.Log, Point{1, h})}
		}, ErrMalformed},
		"a Lamport time that stays": {func(_ *Source, r *[]Raw, p *[]SignedPoint) {
			*r, *p = resigned(w, 3, lamport(func(b uint64) uint64 { return b }))
		}, ErrLamport},
		"a Lamport time that falls": {func(_ *Source, r *[]Raw, p *[]SignedPoint) {
			*r, *p = resigned(w, 3, lamport(func(b uint64) uint64 { return b - 1 }))
		}, ErrLamport},
		"a Lamport time that jumps": {func(_ *Source, r *[]Raw, p *[]SignedPoint) {
			*r, *p = resigned(w, 3, lamport(func(b uint64) uint64 { return b + LamportStep + 1 }))
		}, ErrLamport},
		"a signed digest of another body": {func(_ *Source, r *[]Raw, p *[]SignedPoint) {
			*r, *p = resigned(w, 3, func(h Header, body []byte) (Header, []byte) { return h, append(body, 0) })
		}, ErrDigest},
		"a signed entry that is too large": {func(_ *Source, r *[]Raw, p *[]SignedPoint) {
			*r, *p = resigned(w, 3, func(h Header, _ []byte) (Header, []byte) {
				body := make([]byte, MaxSize)
				h.Body = sha256.Sum256(body)
				return h, body
			})
		}, ErrTooLarge},
		"a header of a newer version": {func(_ *Source, r *[]Raw, _ *[]SignedPoint) {
			(*r)[3].Header = append([]byte{Version + 1}, (*r)[3].Header[1:]...)
		}, ErrMalformed},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			src, raws, points := w.src, slices.Clone(w.raws), slices.Clone(w.points)
			test.damage(&src, &raws, &points)
			if _, err := Verify(src, raws, points); !errors.Is(err, test.err) {
				t.Errorf("%v, want %v", err, test.err)
			}
		})
	}
}

// The largest step that a Lamport time may take is taken by writers and
// accepted by receivers.
func TestLargestLamportStep(t *testing.T) {
	w := write(t, StaffID{1}, newKey(1), 0)
	before := w.Lamport
	e, err := w.Append(NewRecordID(Shared, 1, PersonID{}, [16]byte{}), Body{Kind: KindKeep}, 1<<60, 0)
	if err != nil || e.Header.Lamport != before+LamportStep {
		t.Fatalf("Lamport time %d, %v, want %d", e.Header.Lamport, err, before+LamportStep)
	}
	if _, err := Verify(w.src, append(w.raws, e.Raw), []SignedPoint{w.Sign()}); err != nil {
		t.Error(err)
	}
}

// Whichever bit of an entry or a signed point turns over, the run is refused.
func TestVerifyRefusesEveryFlippedBit(t *testing.T) {
	w := write(t, StaffID{1}, newKey(1), 6)
	rapid.Check(t, func(t *rapid.T) {
		raws, points := slices.Clone(w.raws), slices.Clone(w.points)
		var target []byte
		i, p := rapid.IntRange(0, len(raws)-1).Draw(t, "entry"), rapid.IntRange(0, len(points)-1).Draw(t, "point")
		switch rapid.IntRange(0, 3).Draw(t, "part") {
		case 0:
			raws[i].Header = slices.Clone(raws[i].Header)
			target = raws[i].Header
		case 1:
			raws[i].Body = slices.Clone(raws[i].Body)
			target = raws[i].Body
		case 2:
			points[p].Signature = slices.Clone(points[p].Signature)
			target = points[p].Signature
		case 3:
			target = points[p].Hash[:]
		}
		bit := rapid.IntRange(0, 8*len(target)-1).Draw(t, "bit")
		target[bit/8] ^= 1 << (bit % 8)
		if _, err := Verify(w.src, raws, points); err == nil {
			t.Fatalf("bit %d of entry %d or point %d was turned over, and the run passed", bit, i+1, p+1)
		}
	})
}

func TestWriterRefusesWhatIsTooLarge(t *testing.T) {
	w := write(t, StaffID{1}, newKey(1), 1)
	tip := w.Tip
	body := Body{Kind: KindChanges, Changes: []Change{{Op: OpValue, Value: make([]byte, MaxSize)}}}
	if _, err := w.Append(NewRecordID(Shared, 1, PersonID{}, [16]byte{}), body, 0, 0); !errors.Is(err, ErrTooLarge) {
		t.Errorf("%v, want ErrTooLarge", err)
	}
	if w.Tip != tip {
		t.Error("a refused entry moved the tip")
	}
}

// What fits is written whatever the times are; a byte more isn't at the latest ones.
func TestFitsToTheByte(t *testing.T) {
	w := write(t, StaffID{1}, newKey(1), 1)
	record := NewRecordID(Shared, 1, PersonID{}, [16]byte{})
	of := func(n int) Body {
		return Body{Kind: KindChanges, Source: "a list", Changes: []Change{{Op: OpValue, Value: make([]byte, n)}}}
	}
	most := sort.Search(MaxSize, func(n int) bool { return !Fits(record, of(n+1)) })
	for n, want := range map[int]error{most: nil, most + 1: ErrTooLarge} {
		w.Lamport = math.MaxUint64 - LamportStep
		if _, err := w.Append(record, of(n), math.MaxUint64-1, math.MinInt64); !errors.Is(err, want) {
			t.Errorf("%d bytes of %d: %v, want %v", n, most, err, want)
		}
	}
}

type noRandomness struct{}

func (noRandomness) Read([]byte) (int, error) { return 0, errors.New("no randomness") }

func TestWriterNeedsRandomness(t *testing.T) {
	w := Writer{Key: newKey(1), Random: noRandomness{}}
	if _, err := w.Open(false, nil, 0, 0); err == nil {
		t.Error("a log was opened without randomness")
	}
	if _, err := w.Append("", Body{Kind: KindKeep}, 0, 0); err == nil {
		t.Error("an entry was written without randomness")
	}
}

// FuzzParse reads identifiers as people type them: what is read is written the
// same way, in small letters.
func FuzzParse(f *testing.F) {
	f.Add(shared.String())
	f.Add(idA.String())
	f.Add(DeviceID{1, 2, 3}.String())
	f.Fuzz(func(t *testing.T, typed string) {
		text := strings.ToLower(typed)
		if id, err := ParseRecordID(typed); err == nil && id.String() != text {
			t.Errorf("record %q is written %q", text, id)
		}
		if id, err := ParseID(typed); err == nil && id.String() != text {
			t.Errorf("entry %q is written %q", text, id)
		}
		if id, err := ParseDeviceID(typed); err == nil && id.String() != text {
			t.Errorf("device %q is written %q", text, id)
		}
	})
}
