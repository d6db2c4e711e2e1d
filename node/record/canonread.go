package record

import (
	"fmt"

	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// consumeVarint reads a varint of the shortest form.
func consumeVarint(b []byte) (uint64, []byte, error) {
	v, n := protowire.ConsumeVarint(b)
	if n < 0 || n != protowire.SizeVarint(v) {
		return 0, nil, unreadable("not a number of the shortest form")
	}
	return v, b[n:], nil
}

// wholeVarint reads a varint with nothing after it.
func wholeVarint(b []byte) (uint64, error) {
	v, rest, err := consumeVarint(b)
	if err == nil && len(rest) > 0 {
		err = unreadable("%d bytes after the number", len(rest))
	}
	return v, err
}

// consumeFramed reads a length and that many bytes.
func consumeFramed(b []byte) (value, rest []byte, err error) {
	size, rest, err := consumeVarint(b)
	if err != nil {
		return nil, nil, err
	}
	if size > uint64(len(rest)) {
		return nil, nil, unreadable("%d bytes announced, %d there", size, len(rest))
	}
	return rest[:size], rest[size:], nil
}

// checkCanonical refuses a schema that has no canonical form: maps inside values,
// oneofs, fields without explicit presence, floats of four bytes, fixed widths.
func checkCanonical(desc protoreflect.FieldDescriptor) error {
	switch desc.Kind() {
	case protoreflect.FloatKind, protoreflect.GroupKind,
		protoreflect.Fixed32Kind, protoreflect.Fixed64Kind, protoreflect.Sfixed32Kind, protoreflect.Sfixed64Kind:
		return fmt.Errorf("no canonical form for %s", desc.Kind())
	case protoreflect.MessageKind:
	default:
		return nil
	}
	message := desc.Message()
	if message.Oneofs().Len() != syntheticOneofs(message) {
		return fmt.Errorf("message %s has a oneof", message.Name())
	}
	for i := range message.Fields().Len() {
		inner := message.Fields().Get(i)
		if inner.IsMap() || (!inner.IsList() && !inner.HasPresence()) {
			return fmt.Errorf("message %s: field %s is a map or has no explicit presence", message.Name(), inner.Name())
		}
		if err := checkCanonical(inner); err != nil {
			return err
		}
	}
	return nil
}
