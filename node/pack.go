package node

import (
	"cmp"
	"encoding/binary"
	"maps"
	"slices"

	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
	"plumbline/sync/wire"
)

// A pack holds what lists ask of the records of one storage pack, column by
// column: the shown value of each register as the ledger has it, what there are
// of different ones written once. A question about 300,000 reps reads a few
// bytes of each instead of all of it.
//
// The format has no version: packs are derived, and a change of it changes
// packFormat, which stands at the front and is held against.
const packFormat = 1

// longColumn is how many bytes of different values a column may have. Texts of
// which each is another stay out: their records are read.
const longColumn = 16 << 10

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
	index  map[string]int
	values []string
	codes  [storage.PackSize]uint16 // 0 for none, else a value's index + 1
	size   int
}

func (c *packing) put(slot int, value string) {
	i, ok := c.index[value]
	if !ok {
		i = len(c.values)
		c.index[value] = i
		c.values = append(c.values, value)
		c.size += len(value)
	}
	c.codes[slot] = uint16(i) + 1
}

// packRecords writes the records of a pack.
func packRecords(first storage.Number, rows map[storage.Number]storage.Row) []byte {
	columns := map[column]*packing{}
	put := func(c column, slot int, value string) {
		if columns[c] == nil {
			columns[c] = &packing{index: map[string]int{}}
		}
		columns[c].put(slot, value)
	}
	b := append(make([]byte, 0, 8<<10), packFormat)
	for slot := range storage.PackSize {
		row, ok := rows[first+storage.Number(slot)]
		if !ok {
			b = append(b, 0)
			continue
		}
		b = append(b, byte(row.Info.Visibility)+1)
		person := row.ID.Person()
		put(column{about: ofPerson}, slot, string(person[:]))
		put(column{about: ofConflicts}, slot, string(binary.AppendUvarint(nil, uint64(row.Info.Conflicts))))
		for _, reg := range row.Registers {
			if v, ok := reg.Shown(); ok {
				put(column{Register: reg.Register}, slot, string(append([]byte{byte(v.Op)}, v.Data...)))
			}
		}
	}
	for _, c := range slices.SortedFunc(maps.Keys(columns), compareColumns) {
		b = wire.AppendBytes(appendColumn(b, c), columns[c].encode())
	}
	return b
}

func compareColumns(a, b column) int {
	return cmp.Or(cmp.Compare(a.about, b.about), cmp.Compare(a.Field, b.Field), cmp.Compare(a.Key, b.Key))
}

func appendColumn(b []byte, c column) []byte {
	b = binary.AppendUvarint(append(b, c.about), uint64(c.Field))
	if c.Keyed {
		return wire.AppendBytes(append(b, 1), c.Key)
	}
	return append(b, 0)
}

// encode writes a column; nothing for one that is too long.
func (c *packing) encode() []byte {
	if c.size > longColumn {
		return nil
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

// packed is a pack that was read, its columns not yet.
type packed struct {
	first   storage.Number
	slots   []byte // 0 for none, else a record's visibility + 1
	columns []packedColumn
}

// packedColumn is a column as it stands in a pack: empty if it was too long.
type packedColumn struct {
	column
	data []byte
}

// read takes a pack in, in place of the one that was read before; false for what
// another version of this program made.
func (p *packed) read(first storage.Number, data []byte) bool {
	d := wire.Decoder{Rest: data}
	p.first, p.columns = first, p.columns[:0]
	if d.Byte() != packFormat {
		return false
	}
	p.slots = d.Take(storage.PackSize)
	for d.Err == nil && len(d.Rest) > 0 {
		c := packedColumn{column: column{about: d.Byte()}}
		c.Field = uint32(d.Uvarint())
		if d.Byte() == 1 {
			c.Keyed, c.Key = true, d.Text()
		}
		c.data = d.Bytes()
		p.columns = append(p.columns, c)
	}
	return d.Err == nil
}

// visibility says how a slot's record shows; false for an empty slot.
func (p *packed) visibility(slot int) (merge.Visibility, bool) {
	return merge.Visibility(p.slots[slot] - 1), p.slots[slot] > 0
}

// values reads the different values of a column, and leaves the codes of the
// slots: each the index + 1 of its value, 0 for none, in one byte or two. false
// if the pack lacks the column; one of which no record has a value it has.
func (p *packed) values(c column, each func([]byte)) (codes []byte, wide, ok bool) {
	i := slices.IndexFunc(p.columns, func(one packedColumn) bool { return one.column == c })
	if i < 0 {
		return nil, false, true
	}
	if len(p.columns[i].data) == 0 {
		return nil, false, false
	}
	d := wire.Decoder{Rest: p.columns[i].data}
	count := d.Count()
	for range count {
		each(d.Bytes())
	}
	wide, codes = count > 255, d.Rest
	if size := storage.PackSize; d.Err != nil || len(codes) != size && !wide || len(codes) != 2*size && wide {
		return nil, false, false
	}
	return codes, wide, true
}
