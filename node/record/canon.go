package record

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"fmt"
	"math"
	"slices"
	"unicode/utf8"

	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// The canonical bytes of a value, version 1. Equal values have equal bytes on
// every laptop and in every version; a changed rule would turn equal values into
// conflicts. Numbers in brackets are the bytes of the vectors in canon_test.go.
//
//   - varint: seven bits a byte, low ones first, the top bit set on all but the
//     last; never longer than needed
//   - bool: one byte, 0 or 1
//   - int32, int64 and their like: varint of the zigzag form, so -1 is [01]
//   - uint32, uint64, enum: varint
//   - double: eight bytes, big endian; no NaN, and zero has no sign
//   - string: its UTF-8; bytes: as they are
//   - message: for each field that is present, in ascending order of number:
//     varint of the number, varint of the length, the bytes of the value
//   - list: for each item in order: varint of the length, the bytes of the item
//
// Fields of a message that this version doesn't know have the same frame, so they
// are kept and written back in their place. Maps and groups are no values.

// encode appends the canonical bytes of a field's value.
func encode(b []byte, desc protoreflect.FieldDescriptor, v protoreflect.Value) []byte {
	if desc.IsList() {
		for i := range v.List().Len() {
			b = appendFramed(b, encodeOne(nil, desc, v.List().Get(i)))
		}
		return b
	}
	return encodeOne(b, desc, v)
}

func encodeOne(b []byte, desc protoreflect.FieldDescriptor, v protoreflect.Value) []byte {
	switch desc.Kind() {
	case protoreflect.BoolKind:
		return append(b, byte(protowire.EncodeBool(v.Bool())))
	case protoreflect.Int32Kind, protoreflect.Int64Kind, protoreflect.Sint32Kind, protoreflect.Sint64Kind:
		return protowire.AppendVarint(b, protowire.EncodeZigZag(v.Int()))
	case protoreflect.Uint32Kind, protoreflect.Uint64Kind:
		return protowire.AppendVarint(b, v.Uint())
	case protoreflect.EnumKind:
		return protowire.AppendVarint(b, uint64(v.Enum()))
	case protoreflect.DoubleKind:
		return binary.BigEndian.AppendUint64(b, math.Float64bits(unsignedZero(v.Float())))
	case protoreflect.StringKind:
		return append(b, v.String()...)
	case protoreflect.BytesKind:
		return append(b, v.Bytes()...)
	default:
		return encodeMessage(b, v.Message())
	}
}

func unsignedZero(f float64) float64 {
	if f == 0 {
		return 0
	}
	return f
}

type framed struct {
	number protowire.Number
	value  []byte
}

func encodeMessage(b []byte, m protoreflect.Message) []byte {
	var parts []framed
	m.Range(func(desc protoreflect.FieldDescriptor, v protoreflect.Value) bool {
		parts = append(parts, framed{desc.Number(), encode(nil, desc, v)})
		return true
	})
	for unknown := m.GetUnknown(); len(unknown) > 0; {
		number, _, n := protowire.ConsumeTag(unknown)
		value, size := protowire.ConsumeBytes(unknown[n:])
		parts = append(parts, framed{number, value})
		unknown = unknown[n+size:]
	}
	slices.SortFunc(parts, func(x, y framed) int { return cmp.Compare(x.number, y.number) })
	for _, part := range parts {
		b = protowire.AppendVarint(b, uint64(part.number))
		b = appendFramed(b, part.value)
	}
	return b
}

func appendFramed(b, value []byte) []byte { return protowire.AppendBytes(b, value) }

// decode reads the canonical bytes of a field's value and refuses any others.
// The empty value says which list or message to fill.
func decode(desc protoreflect.FieldDescriptor, empty protoreflect.Value, b []byte) (protoreflect.Value, error) {
	if !desc.IsList() {
		return decodeOne(desc, empty, b)
	}
	list := empty.List()
	for len(b) > 0 {
		item, rest, err := consumeFramed(b)
		if err != nil {
			return protoreflect.Value{}, err
		}
		var blank protoreflect.Value
		if desc.Kind() == protoreflect.MessageKind {
			blank = list.NewElement()
		}
		v, err := decodeOne(desc, blank, item)
		if err != nil {
			return protoreflect.Value{}, err
		}
		list.Append(v)
		b = rest
	}
	return empty, nil
}

func decodeOne(desc protoreflect.FieldDescriptor, empty protoreflect.Value, b []byte) (protoreflect.Value, error) {
	var none protoreflect.Value
	switch desc.Kind() {
	case protoreflect.BoolKind:
		if len(b) != 1 || b[0] > 1 {
			return none, unreadable("a yes or no is one byte, 0 or 1")
		}
		return protoreflect.ValueOfBool(b[0] == 1), nil
	case protoreflect.StringKind:
		if !utf8.Valid(b) {
			return none, unreadable("text is not UTF-8")
		}
		return protoreflect.ValueOfString(string(b)), nil
	case protoreflect.BytesKind:
		return protoreflect.ValueOfBytes(bytes.Clone(b)), nil
	case protoreflect.DoubleKind:
		return decodeDouble(b)
	case protoreflect.MessageKind:
		return empty, decodeMessage(empty.Message(), b)
	}
	n, err := wholeVarint(b)
	if err != nil {
		return none, err
	}
	return integerOf(desc.Kind(), n)
}

func decodeMessage(m protoreflect.Message, b []byte) error {
	var unknown []byte
	for last := uint64(0); len(b) > 0; {
		number, rest, err := consumeVarint(b)
		if err != nil {
			return err
		}
		if number <= last || number > uint64(protowire.MaxValidNumber) {
			return unreadable("field %d after field %d", number, last)
		}
		last = number
		value, rest, err := consumeFramed(rest)
		if err != nil {
			return err
		}
		b = rest
		desc := m.Descriptor().Fields().ByNumber(protowire.Number(number))
		if desc == nil {
			unknown = protowire.AppendTag(unknown, protowire.Number(number), protowire.BytesType)
			unknown = protowire.AppendBytes(unknown, value)
			continue
		}
		v, err := decode(desc, m.NewField(desc), value)
		if err != nil {
			return fmt.Errorf("%s: %w", desc.Name(), err)
		}
		m.Set(desc, v)
	}
	m.SetUnknown(unknown)
	return nil
}

func decodeDouble(b []byte) (protoreflect.Value, error) {
	if len(b) != 8 {
		return protoreflect.Value{}, unreadable("a fraction has eight bytes, not %d", len(b))
	}
	f := math.Float64frombits(binary.BigEndian.Uint64(b))
	if math.IsNaN(f) || (f == 0 && math.Signbit(f)) {
		return protoreflect.Value{}, unreadable("not a canonical fraction")
	}
	return protoreflect.ValueOfFloat64(f), nil
}

func integerOf(kind protoreflect.Kind, n uint64) (protoreflect.Value, error) {
	signed := protowire.DecodeZigZag(n)
	switch kind {
	case protoreflect.Int64Kind, protoreflect.Sint64Kind:
		return protoreflect.ValueOfInt64(signed), nil
	case protoreflect.Uint64Kind:
		return protoreflect.ValueOfUint64(n), nil
	case protoreflect.Int32Kind, protoreflect.Sint32Kind:
		if signed == int64(int32(signed)) {
			return protoreflect.ValueOfInt32(int32(signed)), nil
		}
	case protoreflect.Uint32Kind:
		if n <= math.MaxUint32 {
			return protoreflect.ValueOfUint32(uint32(n)), nil
		}
	case protoreflect.EnumKind:
		if n <= math.MaxInt32 {
			return protoreflect.ValueOfEnum(protoreflect.EnumNumber(n)), nil
		}
	}
	return protoreflect.Value{}, unreadable("a number too large for its field")
}
