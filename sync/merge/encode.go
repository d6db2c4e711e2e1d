package merge

import (
	"encoding/binary"
	"fmt"

	"plumbline/sync/entry"
	"plumbline/sync/wire"
)

// Encode writes a record's state for storage. The bytes are equal for equal
// states. They are derived from the entries and can be thrown away, so the
// format has no version: what can't be read is folded anew.
func (r *Record) Encode() []byte {
	table := originTable{index: map[entry.ID]int{}}
	body := make([]byte, 0, 256)
	body = binary.AppendUvarint(body, uint64(len(r.Registers)))
	for _, reg := range r.Registers {
		body = table.appendRegister(body, reg)
	}
	body = binary.AppendUvarint(body, uint64(len(r.Retirements)))
	for _, t := range r.Retirements {
		body = binary.AppendUvarint(body, table.number(t.Origin))
		body = entry.AppendIDs(entry.AppendIDs(body, t.Heads), t.SetAside)
	}
	body = binary.AppendUvarint(body, uint64(len(r.Keeps)))
	for _, k := range r.Keeps {
		body = binary.AppendUvarint(body, table.number(k))
	}
	out := binary.AppendUvarint(make([]byte, 0, len(body)+64*len(table.origins)), uint64(len(table.origins)))
	for _, o := range table.origins {
		out = entry.AppendID(out, o.ID)
		out = binary.AppendUvarint(out, o.Lamport)
		out = binary.AppendVarint(out, o.Wall)
		out = wire.AppendBytes(out, o.Source)
	}
	return append(out, body...)
}

// originTable writes each entry's identifier once: one entry often holds most
// of a record.
type originTable struct {
	index   map[entry.ID]int
	origins []*Origin
}

func (t *originTable) number(o *Origin) uint64 {
	i, ok := t.index[o.ID]
	if !ok {
		i = len(t.origins)
		t.index[o.ID] = i
		t.origins = append(t.origins, o)
	}
	return uint64(i)
}

func (t *originTable) appendRegister(b []byte, reg *Register) []byte {
	b = binary.AppendUvarint(b, uint64(reg.Field))
	if reg.Keyed {
		b = wire.AppendBytes(append(b, 1), reg.Key)
	} else {
		b = append(b, 0)
	}
	b = binary.AppendUvarint(b, uint64(len(reg.Live)))
	for _, v := range reg.Live {
		b = binary.AppendUvarint(b, t.number(v.Origin))
		b = append(b, byte(v.Op))
		b = wire.AppendBytes(b, v.Data)
	}
	return entry.AppendIDs(b, reg.Replaced)
}

// Decode reads what [Record.Encode] wrote. The record shares memory with the
// bytes.
func Decode(id entry.RecordID, data []byte) (*Record, error) {
	d := wire.Decoder{Rest: data}
	origins := make([]Origin, d.Count())
	for i := range origins {
		origins[i] = Origin{ID: entry.DecodeID(&d), Lamport: d.Uvarint(), Wall: d.Varint(), Source: d.Text()}
	}
	origin := func() *Origin {
		n := d.Uvarint()
		if n >= uint64(len(origins)) {
			d.Fail(wire.ErrShort)
			return &Origin{}
		}
		return &origins[n]
	}
	r := &Record{ID: id}
	registers := make([]Register, d.Count())
	r.Registers = make([]*Register, len(registers))
	for i := range registers {
		decodeRegister(&d, &registers[i], origin)
		r.Registers[i] = &registers[i]
	}
	for range d.Count() {
		r.Retirements = append(r.Retirements, Retirement{origin(), entry.Retirement{Heads: entry.DecodeIDs(&d), SetAside: entry.DecodeIDs(&d)}})
	}
	for range d.Count() {
		r.Keeps = append(r.Keeps, origin())
	}
	if err := d.Done(); err != nil {
		return nil, fmt.Errorf("state of record %s: %w", id, err)
	}
	return r, nil
}

func decodeRegister(d *wire.Decoder, reg *Register, origin func() *Origin) {
	reg.Field = uint32(d.Uvarint())
	if d.Byte() == 1 {
		reg.Keyed, reg.Key = true, d.Text()
	}
	if n := d.Count(); n > 0 {
		reg.Live = make([]Value, n)
	}
	for i := range reg.Live {
		reg.Live[i] = Value{Origin: origin(), Op: entry.Op(d.Byte()), Data: d.Bytes()}
	}
	reg.Replaced = entry.DecodeIDs(d)
}
