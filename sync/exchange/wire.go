package exchange

import (
	"encoding/binary"
	"errors"
	"fmt"
	"slices"

	"plumbline/sync/entry"
	"plumbline/sync/wire"
)

// The first byte of a message says what it is. A number that a program
// doesn't know is ignored, so that newer ones can say more.
//
//	2026-11: have, want, chunk, decline.
const (
	kindHave    = 1 // tips that the sender holds
	kindWant    = 2 // asks for the next chunk of a branch
	kindChunk   = 3 // entries, asked for or pushed
	kindDecline = 4 // tips that the sender won't ask for
	// KindLinkKeys is left to the caller, who passes link keys over the same
	// link, once the peer's control logs are stored.
	KindLinkKeys = 5
)

const (
	// MaxMessage is the most that a message takes, in bytes.
	MaxMessage = 512 << 10
	// MaxChunk is the most that the entries of one chunk take, in bytes as
	// entry.Raw counts them.
	MaxChunk = 256 << 10

	tipSize    = 16 + binary.MaxVarintLen64 + 32 + 1
	maxTips    = (MaxMessage - 64) / tipSize
	maxSamples = 512
)

// ErrMalformed is returned for a message that isn't of the exchange's format.
var ErrMalformed = errors.New("malformed message")

// have tells tips. The two marks end the lists with which a link begins.
type have struct {
	controlListed bool // all control tips have been told
	allListed     bool // all tips have been told
	tips          []Tip
}

type want struct {
	number uint64 // repeated in the answer, from 1
	log    entry.LogID
	target entry.Point
	// held are points of the log that the asking laptop holds or is about to.
	held []entry.Point
}

// chunk carries the entries after one point and up to another. Without
// entries it answers that there is nothing to give.
type chunk struct {
	number  uint64 // of the want; 0 for a push
	control bool
	log     entry.LogID
	after   entry.Point
	upto    entry.Point
	packed  []byte
}

type decline struct{ tips []Tip }

func (m have) encode() []byte {
	b := make([]byte, 0, 16+tipSize*len(m.tips))
	b = append(b, kindHave, flag(m.controlListed)|flag(m.allListed)<<1)
	return appendTips(b, m.tips)
}

func (m decline) encode() []byte { return appendTips([]byte{kindDecline}, m.tips) }

func (m want) encode() []byte {
	b := binary.AppendUvarint([]byte{kindWant}, m.number)
	b = append(b, m.log[:]...)
	b = appendPoint(b, m.target)
	b = binary.AppendUvarint(b, uint64(len(m.held)))
	for _, p := range m.held {
		b = appendPoint(b, p)
	}
	return b
}

func (m chunk) encode() []byte {
	b := make([]byte, 0, 128+len(m.packed))
	b = append(b, kindChunk, flag(m.control))
	b = binary.AppendUvarint(b, m.number)
	b = append(b, m.log[:]...)
	b = appendPoint(b, m.after)
	b = appendPoint(b, m.upto)
	return append(b, m.packed...)
}

// decode reads a message: a have, want, chunk, decline, or nil for a kind
// that this program doesn't know.
func decode(message []byte) (any, error) {
	if len(message) > MaxMessage {
		return nil, fmt.Errorf("%w: %d bytes, at most %d", ErrMalformed, len(message), MaxMessage)
	}
	d := wire.Decoder{Rest: message}
	var m any
	kind := d.Byte()
	switch kind {
	case kindHave:
		m = decodeHave(&d)
	case kindWant:
		m = decodeWant(&d)
	case kindChunk:
		m = decodeChunk(&d)
	case kindDecline:
		m = decline{tips: decodeTips(&d)}
	default:
		d.Rest = nil
	}
	if err := d.Done(); err != nil {
		return nil, fmt.Errorf("%w of kind %d: %w", ErrMalformed, kind, err)
	}
	return m, nil
}

func decodeHave(d *wire.Decoder) have {
	flags := d.Byte()
	return have{controlListed: flags&1 != 0, allListed: flags&2 != 0, tips: decodeTips(d)}
}

func decodeWant(d *wire.Decoder) want {
	m := want{number: d.Uvarint(), log: d.Array16(), target: decodePoint(d)}
	n := d.Count()
	if n > maxSamples {
		d.Fail(fmt.Errorf("%d points, at most %d", n, maxSamples))
		return m
	}
	for range n {
		m.held = append(m.held, decodePoint(d))
	}
	return m
}

func decodeChunk(d *wire.Decoder) chunk {
	m := chunk{control: d.Byte()&1 != 0, number: d.Uvarint(), log: d.Array16(), after: decodePoint(d), upto: decodePoint(d)}
	m.packed, d.Rest = d.Rest, nil
	return m
}

func appendTips(b []byte, tips []Tip) []byte {
	b = binary.AppendUvarint(b, uint64(len(tips)))
	for _, t := range tips {
		b = append(b, t.Log[:]...)
		b = appendPoint(b, t.Point)
		b = append(b, flag(t.Control))
	}
	return b
}

func decodeTips(d *wire.Decoder) []Tip {
	n := d.Count()
	tips := make([]Tip, 0, min(n, len(d.Rest)/50+1))
	for range n {
		t := Tip{Log: d.Array16(), Point: decodePoint(d), Control: d.Byte()&1 != 0}
		if d.Err == nil && t.Seq == 0 {
			d.Fail(errors.New("a tip without an entry"))
		}
		if d.Err != nil {
			return nil
		}
		tips = append(tips, t)
	}
	return tips
}

func appendPoint(b []byte, p entry.Point) []byte {
	return append(binary.AppendUvarint(b, p.Seq), p.Hash[:]...)
}

func decodePoint(d *wire.Decoder) entry.Point {
	return entry.Point{Seq: d.Uvarint(), Hash: d.Array32()}
}

func flag(set bool) byte {
	if set {
		return 1
	}
	return 0
}

// batches cuts a list of tips into what fits into one message each.
func batches(tips []Tip) [][]Tip { return slices.Collect(slices.Chunk(tips, maxTips)) }
