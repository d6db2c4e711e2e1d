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

// codes gives the number of each slot's value, 0 for none; false if the pack
// doesn't have the column.
func (f *facet) codes(p *packed) (out [storage.PackSize]uint32, ok bool) {
	values, codes, ok := p.read(f.column)
	if !ok {
		return out, false
	}
	numbers := make([]uint32, len(values)+1)
	for i, v := range values {
		n, known := f.index[string(v)]
		if !known {
			n = uint32(len(f.values))
			f.index[string(v)] = n
			f.values = append(f.values, faceted{raw: string(v)})
		}
		numbers[i+1] = n
	}
	for slot, code := range codes {
		if int(code) < len(numbers) {
			out[slot] = numbers[code]
		}
	}
	return out, true
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
