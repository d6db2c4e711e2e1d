package entry

import (
	"encoding/binary"
	"errors"
)

// errShort is the cause inside ErrMalformed when bytes end early.
var errShort = errors.New("the bytes end early")

// decoder reads a byte string from front to back and remembers the first
// failure, so that the code that uses it reads like the format.
type decoder struct {
	rest []byte
	err  error
}

func (d *decoder) take(n uint64) []byte {
	if d.err != nil || n > uint64(len(d.rest)) {
		d.fail(errShort)
		return nil
	}
	part := d.rest[:n:n]
	d.rest = d.rest[n:]
	return part
}

func (d *decoder) fail(err error) {
	if d.err == nil {
		d.err = err
	}
	d.rest = nil
}

func (d *decoder) byte() byte {
	if b := d.take(1); b != nil {
		return b[0]
	}
	return 0
}

func (d *decoder) uvarint() uint64 {
	v, n := binary.Uvarint(d.rest)
	if n <= 0 {
		d.fail(errShort)
		return 0
	}
	d.rest = d.rest[n:]
	return v
}

func (d *decoder) varint() int64 {
	v, n := binary.Varint(d.rest)
	if n <= 0 {
		d.fail(errShort)
		return 0
	}
	d.rest = d.rest[n:]
	return v
}

func (d *decoder) bytes() []byte { return d.take(d.uvarint()) }

func (d *decoder) string() string { return string(d.bytes()) }

func (d *decoder) array16() (a [16]byte) {
	copy(a[:], d.take(16))
	return a
}

// count reads how many items follow. Each takes at least one byte, so that a
// forged count can't make the reader allocate more than was sent.
func (d *decoder) count() int {
	n := d.uvarint()
	if n > uint64(len(d.rest)) {
		d.fail(errShort)
		return 0
	}
	return int(n)
}

func (d *decoder) id() ID {
	return ID{Log: d.array16(), Seq: d.uvarint(), Hash: d.array16()}
}

func (d *decoder) ids() []ID {
	n := d.count()
	if n == 0 {
		return nil
	}
	ids := make([]ID, 0, n)
	for range n {
		ids = append(ids, d.id())
	}
	return ids
}

// done returns the first failure, or one for bytes that nothing read.
func (d *decoder) done() error {
	if d.err == nil && len(d.rest) > 0 {
		return errors.New("bytes are left over")
	}
	return d.err
}

func appendBytes[T ~[]byte | ~string](b []byte, data T) []byte {
	return append(binary.AppendUvarint(b, uint64(len(data))), data...)
}

func appendID(b []byte, id ID) []byte {
	b = append(b, id.Log[:]...)
	b = binary.AppendUvarint(b, id.Seq)
	return append(b, id.Hash[:]...)
}

func appendIDs(b []byte, ids []ID) []byte {
	b = binary.AppendUvarint(b, uint64(len(ids)))
	for _, id := range ids {
		b = appendID(b, id)
	}
	return b
}
