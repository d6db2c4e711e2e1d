package node

import (
	"encoding/binary"

	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
)

// facet is one column over all packs of a question: its different values, each
// numbered once and worked out once, however many records have it.
type facet struct {
	column column
	known  record.Register // for a register
	index  map[string]uint32
	values []faceted
	// codes are the numbers of the values in the pack that was loaded last.
	codes   [storage.PackSize]uint32
	numbers []uint32 // of its values in the pack's own order
	// kept are those of the records that a question keeps, if it needs them.
	kept  []uint32
	keeps bool
}

// faceted is one value. What it is to an expression and to people is worked out
// when it is asked for.
type faceted struct {
	raw    string
	plain  any
	native bool // plain is worked out
	text   string
	texted bool
}

func newFacet(c column, known record.Register) *facet {
	return &facet{column: c, known: known, index: map[string]uint32{}, values: make([]faceted, 1)} // 0 is none
}

// name is what expressions call it.
func (f *facet) name() string {
	switch f.column.about {
	case ofConflicts:
		return "conflicts"
	case ofPerson:
		return "by"
	}
	return f.known.Field.Name
}

// load takes in the column of a pack, nil if no record has a value: codes then
// holds the number of each slot's value, 0 for none. false for one that stayed
// out of the pack.
func (f *facet) load(data []byte) bool {
	if data == nil {
		clear(f.codes[:])
		return true
	}
	f.numbers = append(f.numbers[:0], 0)
	codes, wide, ok := readColumn(data, func(v []byte) { f.numbers = append(f.numbers, f.number(v)) })
	if !ok {
		return false
	}
	for slot := range f.codes {
		code := int(codes[slot])
		if wide {
			code = int(binary.LittleEndian.Uint16(codes[2*slot:]))
		}
		if code >= len(f.numbers) {
			return false
		}
		f.codes[slot] = f.numbers[code]
	}
	return true
}

// keep notes the value of a slot.
func (f *facet) keep(slot int) {
	if f.keeps {
		f.kept = append(f.kept, f.codes[slot])
	}
}

func (f *facet) number(v []byte) uint32 {
	n, known := f.index[string(v)]
	if !known {
		n = uint32(len(f.values))
		f.index[string(v)] = n
		f.values = append(f.values, faceted{raw: string(v)})
	}
	return n
}

// stored is a value as the ledger has it.
func (f *facet) stored(code uint32) (record.Value, bool) {
	raw := f.values[code].raw
	if code == 0 || raw == "" {
		return record.Value{}, false
	}
	return record.Value{Op: entry.Op(raw[0]), Bytes: []byte(raw[1:])}, true
}

// plain is what an expression sees; nil for none. It is what fields makes of the
// same value.
func (f *facet) plain(r *reader, code uint32) any {
	v := &f.values[code]
	if v.native || code == 0 {
		return v.plain
	}
	v.native = true
	switch f.column.about {
	case ofConflicts:
		n, _ := binary.Uvarint([]byte(v.raw))
		v.plain = int64(n)
	case ofPerson:
		v.plain = r.personName(entry.PersonID([]byte(v.raw)))
	default:
		stored, _ := f.stored(code)
		if plain, ok := r.plain(f.known, stored); ok {
			v.plain = plain
		}
	}
	return v.plain
}

// refers returns the record that a value refers to.
func (f *facet) refers(code uint32) entry.RecordID {
	v, ok := f.stored(code)
	if !ok {
		return ""
	}
	return entry.RecordID(v.Bytes)
}

// shown is the value as people read it; "" for none.
func (f *facet) shown(r *reader, code uint32) string {
	v := &f.values[code]
	if !v.texted {
		v.texted = true
		if stored, ok := f.stored(code); ok {
			v.text = r.text(nil, f.known, stored)
		}
	}
	return v.text
}
