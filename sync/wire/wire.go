// Package wire reads and writes the ledger's own byte strings: variable-length
// integers and length-prefixed bytes. [Decoder] reads from front to back and
// remembers the first failure, so that the code that uses it reads like the
// format. It refuses what ends early and what is left over, and never
// allocates more than was sent.
package wire

import (
	"encoding/binary"
	"errors"
)

// Reasons why bytes can't be read.
var (
	// ErrShort is returned when the bytes end before the value does.
	ErrShort = errors.New("the bytes end early")
	// ErrLeftOver is returned when bytes follow the last value.
	ErrLeftOver = errors.New("bytes are left over")
)

// Decoder reads a byte string.
type Decoder struct {
	Rest []byte
	Err  error
}

// Take reads n bytes. They share memory with the input.
func (d *Decoder) Take(n uint64) []byte {
	if d.Err != nil || n > uint64(len(d.Rest)) {
		d.Fail(ErrShort)
		return nil
	}
	part := d.Rest[:n:n]
	d.Rest = d.Rest[n:]
	return part
}

// Fail remembers the first failure and reads no further.
func (d *Decoder) Fail(err error) {
	if d.Err == nil {
		d.Err = err
	}
	d.Rest = nil
}

// Byte reads one byte.
func (d *Decoder) Byte() byte {
	if b := d.Take(1); b != nil {
		return b[0]
	}
	return 0
}

// Uvarint reads an unsigned integer.
func (d *Decoder) Uvarint() uint64 {
	v, n := binary.Uvarint(d.Rest)
	if n <= 0 {
		d.Fail(ErrShort)
		return 0
	}
	d.Rest = d.Rest[n:]
	return v
}

// Varint reads a signed integer.
func (d *Decoder) Varint() int64 {
	v, n := binary.Varint(d.Rest)
	if n <= 0 {
		d.Fail(ErrShort)
		return 0
	}
	d.Rest = d.Rest[n:]
	return v
}

// Bytes reads a length and that many bytes.
func (d *Decoder) Bytes() []byte { return d.Take(d.Uvarint()) }

// Text reads a length and that many bytes as a string.
func (d *Decoder) Text() string { return string(d.Bytes()) }

// Array16 reads sixteen bytes.
func (d *Decoder) Array16() (a [16]byte) {
	copy(a[:], d.Take(16))
	return a
}

// Array32 reads thirty-two bytes.
func (d *Decoder) Array32() (a [32]byte) {
	copy(a[:], d.Take(32))
	return a
}

// Count reads how many items follow. Each takes at least one byte, so that a
// forged count can't make the reader allocate more than was sent.
func (d *Decoder) Count() int {
	n := d.Uvarint()
	if n > uint64(len(d.Rest)) {
		d.Fail(ErrShort)
		return 0
	}
	return int(n)
}

// Done returns the first failure, or one for bytes that nothing read.
func (d *Decoder) Done() error {
	if d.Err == nil && len(d.Rest) > 0 {
		return ErrLeftOver
	}
	return d.Err
}

// AppendBytes writes a length and the bytes.
func AppendBytes[T ~[]byte | ~string](b []byte, data T) []byte {
	return append(binary.AppendUvarint(b, uint64(len(data))), data...)
}
