package node

import (
	"context"
	"encoding/binary"

	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/wire"
)

// A pack holds what lists ask of the records of one storage pack, column by
// column: the shown value of each register as the ledger has it, what there are
// of different ones written once. A question about 300,000 reps reads a few
// bytes of each instead of all of it.
//
// Each column is a part of its own in the storage. The format has no version:
// packs are derived, and a change of it changes packFormat, which stands at the
// front of packs and of the names of their columns and is held against.
const packFormat = 2

// longColumn is how many bytes of different values a column may have. Texts of
// which each is another stay out: their records are read.
const longColumn = 16 << 10

// tooLong stands for a column that stays out: one of no values, which none has.
var tooLong = []byte{0}

// column names what a column holds: a register, or one of the two others.
type column struct {
	entry.Register
	about byte
}

const (
	ofRegister  byte = 0
	ofConflicts byte = 1 // how many registers are in conflict
	ofPerson    byte = 2 // whose the record is
)

// packing is a column in the making.
type packing struct {
	index  map[string]uint16 // by value, its code
	values []string
	codes  [storage.PackSize]uint16 // 0 for none, else a value's index + 1
	size   int
}

func (c *packing) put(slot int, value []byte) {
	code, ok := c.index[string(value)]
	if !ok {
		kept := string(value)
		c.values = append(c.values, kept)
		code = uint16(len(c.values))
		c.index[kept] = code
		c.size += len(value)
	}
	c.codes[slot] = code
}

// packer makes one pack after the other.
type packer struct {
	columns map[column]*packing
	// plain are those of the columns without a key, by their fields: they are
	// asked for twenty times for each record.
	plain [64]*packing
	value []byte
}

// column finds a column, or begins it.
func (m *packer) column(c column) *packing {
	quick := c.about == ofRegister && !c.Keyed && int(c.Field) < len(m.plain)
	if quick && m.plain[c.Field] != nil {
		return m.plain[c.Field]
	}
	p := m.columns[c]
	if p == nil {
		p = &packing{index: map[string]uint16{}}
		m.columns[c] = p
	}
	if quick {
		m.plain[c.Field] = p
	}
	return p
}

// makePack makes a pack of what its records show now.
func (n *Node) makePack(ctx context.Context, first storage.Number) (storage.Pack, error) {
	m := packer{columns: map[column]*packing{}}
	p := storage.Pack{Head: make([]byte, 1+storage.PackSize), Parts: map[string][]byte{}}
	p.Head[0] = packFormat
	err := n.store.Packed(ctx, first, func(n storage.Number, is storage.Shown) {
		slot := int(n - first)
		p.Head[1+slot] = byte(is.Visibility) + 1
		m.add(slot, is)
	})
	for c, packing := range m.columns {
		p.Parts[c.part()] = packing.encode()
	}
	return p, err
}

func (m *packer) add(slot int, is storage.Shown) {
	person := is.ID.Person()
	m.column(column{about: ofPerson}).put(slot, person[:])
	m.value = binary.AppendUvarint(m.value[:0], uint64(is.Conflicts))
	m.column(column{about: ofConflicts}).put(slot, m.value)
	for v := range is.Values() {
		m.value = append(append(m.value[:0], byte(v.Op)), v.Value...)
		m.column(column{Register: v.Register}).put(slot, m.value)
	}
}

// part is what the storage knows a column by.
func (c column) part() string {
	b := binary.AppendUvarint([]byte{packFormat, c.about}, uint64(c.Field))
	if c.Keyed {
		return string(append(append(b, 1), c.Key...))
	}
	return string(append(b, 0))
}

// encode writes a column.
func (c *packing) encode() []byte {
	if c.size > longColumn {
		return tooLong
	}
	b := binary.AppendUvarint(nil, uint64(len(c.values)))
	for _, v := range c.values {
		b = wire.AppendBytes(b, v)
	}
	for _, code := range c.codes {
		if b = append(b, byte(code)); len(c.values) > 255 {
			b = append(b, byte(code>>8))
		}
	}
	return b
}

// readSlots says of each record of a pack how it shows: 0 for none, else its
// visibility + 1. false for a pack that has to be made, or that another version of
// this program made.
func readSlots(head []byte) ([]byte, bool) {
	ok := len(head) == 1+storage.PackSize && head[0] == packFormat
	if !ok {
		return nil, false
	}
	return head[1:], true
}

// readColumn reads the different values of a column, and leaves the codes of the
// slots: each the index + 1 of its value, 0 for none, in one byte or two. false
// if it stayed out.
func readColumn(data []byte, each func([]byte)) (codes []byte, wide, ok bool) {
	d := wire.Decoder{Rest: data}
	count := d.Count()
	for range count {
		each(d.Bytes())
	}
	wide, codes = count > 255, d.Rest
	size := storage.PackSize
	if wide {
		size *= 2
	}
	return codes, wide, d.Err == nil && len(codes) == size
}
