package entry

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"time"

	"plumbline/sync/wire"
)

// Version is the entry format that this code writes.
//
//	1, 2026-11: first format.
const Version = 1

// MaxSize is the most that header and body of one entry may take, in bytes.
const MaxSize = 64 << 10

// Fits reports whether an entry stays within [MaxSize] whenever it is written: its
// times take the more room the later it is.
func Fits(record RecordID, body Body) bool {
	h := Header{Lamport: math.MaxUint64, Wall: math.MinInt64, Record: record}
	return Raw{Header: h.encode(), Body: body.encode()}.Size() <= MaxSize
}

// ErrMalformed is returned when bytes aren't an entry of a known format.
var ErrMalformed = errors.New("malformed entry")

// Header is what is hashed into the log: enough to order and file an entry
// without its body.
type Header struct {
	// Lamport orders writes that know of each other. No clock does.
	Lamport uint64
	// Wall is the author's clock in milliseconds since 1970. It is shown to
	// people and judges nothing.
	Wall int64
	// Record is the one record that the entry is about; empty for a log's
	// first entry and for control entries.
	Record RecordID
	// Body is the SHA-256 of the body's bytes.
	Body [32]byte
}

// Time returns the author's wall clock.
func (h Header) Time() time.Time { return time.UnixMilli(h.Wall) }

func (h Header) encode() []byte {
	b := make([]byte, 0, 96)
	b = append(b, Version)
	b = binary.AppendUvarint(b, h.Lamport)
	b = binary.AppendVarint(b, h.Wall)
	b = wire.AppendBytes(b, h.Record)
	return append(b, h.Body[:]...)
}

// DecodeHeader reads the bytes of a header.
func DecodeHeader(data []byte) (Header, error) {
	d := decode(data)
	if v := d.Byte(); d.Err == nil && v != Version {
		return Header{}, fmt.Errorf("%w: header of version %d, this program reads version %d: update it", ErrMalformed, v, Version)
	}
	h := Header{Lamport: d.Uvarint(), Wall: d.Varint(), Record: RecordID(d.Text())}
	h.Body = d.Array32()
	if err := d.Done(); err != nil {
		return Header{}, fmt.Errorf("%w: header: %w", ErrMalformed, err)
	}
	if h.Record != "" && !h.Record.Valid() {
		return Header{}, fmt.Errorf("%w: header: record id of %d bytes has no known class", ErrMalformed, len(h.Record))
	}
	return h, nil
}
