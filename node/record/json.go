package record

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"maps"
	"slices"
	"strconv"

	"google.golang.org/protobuf/reflect/protoreflect"

	"plumbline/node/near"
	recordv1 "plumbline/proto/plumbline/record/v1"
)

// ToJSON gives a stored value as JSON: numbers, true and false, text, words of an
// enum and ids as text, lists, and messages by the names of their fields.
func (r Register) ToJSON(v Value) ([]byte, error) {
	plain, err := r.Native(v)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	encoder := json.NewEncoder(&out)
	encoder.SetEscapeHTML(false)
	if err := encoder.Encode(plain); err != nil {
		return nil, err
	}
	return bytes.TrimRight(out.Bytes(), "\n"), nil
}

// FromJSON is the inverse of [Register.ToJSON]. Where a word is wanted it takes
// what [Register.Parse] takes.
func (r Register) FromJSON(raw []byte) (Value, error) {
	decoder := json.NewDecoder(bytes.NewReader(raw))
	decoder.UseNumber()
	var plain any
	if err := decoder.Decode(&plain); err != nil {
		return Value{}, &Invalid{r.Path(), string(raw), "not JSON: " + err.Error()}
	}
	if _, err := decoder.Token(); !errors.Is(err, io.EOF) {
		return Value{}, &Invalid{r.Path(), string(raw), "more than one JSON value"}
	}
	v, err := fromPlain(target{r.Field.element(), r.Field.Role, r.Field.RefersTo != ""}, r.blank(), plain)
	if err != nil {
		return Value{}, r.invalid(string(raw), err)
	}
	if err := r.check(string(raw), v); err != nil {
		return Value{}, err
	}
	return r.seal(v), nil
}

// target is what a JSON value is read for. Role and reference stand at a map
// field, not at its values, so they are carried along.
type target struct {
	desc protoreflect.FieldDescriptor
	role recordv1.Role
	ref  bool
}

func (t target) want() error { return because("wanted here: %s", typeName(t.desc, t.role)) }

func fromPlain(t target, blank protoreflect.Value, plain any) (protoreflect.Value, error) {
	if !t.desc.IsList() {
		return fromPlainOne(t, blank, plain)
	}
	items, ok := plain.([]any)
	if !ok {
		return blank, because("wanted here: a list, [...]")
	}
	for _, item := range items {
		var empty protoreflect.Value
		if t.desc.Message() != nil {
			empty = blank.List().NewElement()
		}
		v, err := fromPlainOne(t, empty, item)
		if err != nil {
			return blank, err
		}
		blank.List().Append(v)
	}
	return blank, nil
}

func fromPlainOne(t target, blank protoreflect.Value, plain any) (protoreflect.Value, error) {
	switch plain := plain.(type) {
	case string:
		return fromText(t, plain)
	case json.Number:
		return fromNumber(t, plain)
	case bool:
		if t.desc.Kind() == protoreflect.BoolKind {
			return protoreflect.ValueOfBool(plain), nil
		}
	case map[string]any:
		if t.desc.Kind() == protoreflect.MessageKind {
			return blank, fillMessage(blank.Message(), plain)
		}
	}
	return blank, t.want()
}

func fromText(t target, text string) (protoreflect.Value, error) {
	if t.ref {
		return parseID(text)
	}
	switch t.desc.Kind() {
	case protoreflect.StringKind, protoreflect.EnumKind:
		return parseScalar(t.desc, t.role, text)
	}
	return protoreflect.Value{}, t.want()
}

func fromNumber(t target, number json.Number) (protoreflect.Value, error) {
	switch t.desc.Kind() {
	case protoreflect.Int32Kind, protoreflect.Int64Kind:
		return parseInteger(t.desc, number.String())
	case protoreflect.DoubleKind:
		f, err := strconv.ParseFloat(number.String(), 64)
		if err != nil {
			return protoreflect.Value{}, because("not a number that can be kept")
		}
		return protoreflect.ValueOfFloat64(f), nil
	}
	return protoreflect.Value{}, t.want()
}

func fillMessage(m protoreflect.Message, plain map[string]any) error {
	fields := m.Descriptor().Fields()
	for _, name := range slices.Sorted(maps.Keys(plain)) {
		desc := fields.ByName(protoreflect.Name(name))
		if desc == nil {
			var known []string
			for i := range fields.Len() {
				known = append(known, string(fields.Get(i).Name()))
			}
			return because("no field %q%s", name, near.Hint(name, known))
		}
		options := fieldOptions(desc)
		v, err := fromPlain(target{desc, options.GetRole(), options.GetRefersTo() != ""}, m.NewField(desc), plain[name])
		if err != nil {
			return because("%s: %s", name, err)
		}
		m.Set(desc, v)
	}
	return nil
}
