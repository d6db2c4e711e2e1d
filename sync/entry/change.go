package entry

import (
	"encoding/binary"
	"fmt"
	"math"

	"plumbline/sync/wire"
)

// Op says what a change does to its register.
type Op byte

// The operations. 3 is left for sealed values.
const (
	OpClear     Op = 0 // the register has no value
	OpValue     Op = 1 // the value's bytes
	OpReference Op = 2 // the value is a record's identifier
)

const (
	opBits = 0x03
	keyBit = 0x04
)

// Register names one field of a record, or one key of a map field.
type Register struct {
	Field uint32
	// Keyed tells a map field's empty key from a field that is no map.
	Keyed bool
	Key   string
}

// Change is one write to one register.
type Change struct {
	Register
	Op    Op
	Value []byte
	// Replaces names the values that the author saw there and replaces. What
	// they hadn't seen stays.
	Replaces []ID
}

func appendChanges(b []byte, changes []Change) []byte {
	b = binary.AppendUvarint(b, uint64(len(changes)))
	for _, c := range changes {
		b = binary.AppendUvarint(b, uint64(c.Field))
		flags := byte(c.Op) & opBits
		if c.Keyed {
			flags |= keyBit
		}
		b = append(b, flags)
		if c.Keyed {
			b = wire.AppendBytes(b, c.Key)
		}
		if c.Op != OpClear {
			b = wire.AppendBytes(b, c.Value)
		}
		b = AppendIDs(b, c.Replaces)
	}
	return b
}

// field reads a field's number. One too large for its type must not pass for
// another field.
func (d *decoder) field() uint32 {
	n := d.Uvarint()
	if n > math.MaxUint32 {
		d.Fail(fmt.Errorf("field number %d is too large", n))
	}
	return uint32(n)
}

func (d *decoder) changes() []Change {
	n := d.Count()
	changes := make([]Change, 0, min(n, 64))
	for range n {
		var c Change
		c.Field = d.field()
		flags := d.Byte()
		c.Op, c.Keyed = Op(flags&opBits), flags&keyBit != 0
		if c.Keyed {
			c.Key = d.Text()
		}
		if c.Op != OpClear {
			c.Value = d.Bytes()
		}
		c.Replaces = d.ids()
		if d.Err != nil {
			return nil
		}
		changes = append(changes, c)
	}
	return changes
}
