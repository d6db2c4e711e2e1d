package record

import (
	"fmt"
	"strconv"
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"

	recordv1 "plumbline/proto/plumbline/record/v1"
	"plumbline/sync/entry"
)

// Text shows a stored value as people write it. A reference is shown as the
// record's id; its caller knows names.
func (r Register) Text(v Value) (string, error) {
	out, err := r.open(v)
	if err != nil {
		return "", err
	}
	if !r.Field.IsList() {
		return r.textOne(out), nil
	}
	var items []string
	for i := range out.List().Len() {
		items = append(items, r.textOne(out.List().Get(i)))
	}
	return strings.Join(items, ", "), nil
}

// Short shows a stored value where there is little room: TE for tight_end.
func (r Register) Short(v Value) (string, error) {
	if r.Field.enum == nil || r.Field.IsList() {
		return r.Text(v)
	}
	out, err := r.open(v)
	if err != nil {
		return "", err
	}
	if short := r.Field.enum.short[out.Enum()]; short != "" {
		return short, nil
	}
	return r.Field.enum.text(out.Enum()), nil
}

func (r Register) textOne(v protoreflect.Value) string {
	desc := r.Field.element()
	switch {
	case r.Field.RefersTo != "":
		return entry.RecordID(v.Bytes()).String()
	case r.Field.Role == recordv1.Role_ROLE_CLOCK:
		return formatClock(v.Int())
	case r.Field.Role == recordv1.Role_ROLE_YARD_LINE:
		return formatYardLine(v.Int())
	}
	switch desc.Kind() {
	case protoreflect.MessageKind:
		if how, ok := messages[desc.Message().FullName()]; ok {
			return how.text(v.Message())
		}
	case protoreflect.EnumKind:
		return r.Field.enum.text(v.Enum())
	case protoreflect.BoolKind:
		if v.Bool() {
			return "yes"
		}
		return "no"
	case protoreflect.DoubleKind:
		return strconv.FormatFloat(v.Float(), 'g', -1, 64)
	}
	return fmt.Sprint(v.Interface())
}

// Native gives a stored value as the plain Go value that computations and
// expressions take: int64, float64, bool, string (words of an enum and ids too),
// []any for a list, map[string]any for a message.
func (r Register) Native(v Value) (any, error) {
	out, err := r.open(v)
	if err != nil {
		return nil, err
	}
	return native(r.Field.element(), r.Field.RefersTo != "", out), nil
}

func native(desc protoreflect.FieldDescriptor, ref bool, v protoreflect.Value) any {
	if !desc.IsList() {
		return nativeOne(desc, ref, v)
	}
	list := make([]any, v.List().Len())
	for i := range list {
		list[i] = nativeOne(desc, ref, v.List().Get(i))
	}
	return list
}

func nativeOne(desc protoreflect.FieldDescriptor, ref bool, v protoreflect.Value) any {
	switch desc.Kind() {
	case protoreflect.EnumKind:
		return vocabularyOf(desc.Enum()).text(v.Enum())
	case protoreflect.Int32Kind, protoreflect.Int64Kind:
		return v.Int()
	case protoreflect.BytesKind:
		if ref {
			return entry.RecordID(v.Bytes()).String()
		}
	case protoreflect.MessageKind:
		fields := map[string]any{}
		v.Message().Range(func(inner protoreflect.FieldDescriptor, v protoreflect.Value) bool {
			fields[string(inner.Name())] = native(inner, fieldOptions(inner).GetRefersTo() != "", v)
			return true
		})
		return fields
	}
	return v.Interface()
}
