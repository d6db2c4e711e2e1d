package record

import (
	"cmp"
	"fmt"
	"strconv"

	"buf.build/go/protovalidate"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	recordv1 "plumbline/proto/plumbline/record/v1"
)

// AnyKind is what a field refers to that may point to a record of any kind.
const AnyKind = "any"

// Field is one field of a kind: one register, or for a map one for each key.
type Field struct {
	Number  uint32
	Name    string
	Label   string
	Help    string
	Aliases []string
	// RefersTo names the kind that the field points to, [AnyKind], or nothing.
	RefersTo string
	// KeyedBy names the kind whose names are the keys of a map, or nothing.
	KeyedBy string
	Role    recordv1.Role

	desc protoreflect.FieldDescriptor
	enum *vocabulary
}

// IsMap reports whether each key is a register of its own.
func (f *Field) IsMap() bool { return f.desc.IsMap() }

// IsList reports whether the value is a list, written as a whole.
func (f *Field) IsList() bool { return f.desc.IsList() }

// IsRef reports whether a value is a reference that the ledger itself follows. A
// list of references is a plain value.
func (f *Field) IsRef() bool { return f.RefersTo != "" && !f.IsList() }

// IsText reports whether the field holds prose: indexed, and merged in three ways.
func (f *Field) IsText() bool { return f.Role == recordv1.Role_ROLE_TEXT }

// IsIndexed reports whether the field's words belong in the full-text index.
func (f *Field) IsIndexed() bool { return f.IsText() || f.Role == recordv1.Role_ROLE_NAME }

// Values returns the names that an enum's value can have, else nothing.
func (f *Field) Values() []string {
	if f.enum == nil {
		return nil
	}
	return f.enum.names
}

// Synonyms returns what people type for an enum's values besides their names:
// each word with the names it may mean.
func (f *Field) Synonyms() map[string][]string {
	if f.enum == nil {
		return nil
	}
	return f.enum.synonyms()
}

// Keys returns the keys that a map of whole numbers may have, where the schema
// bounds them, else nothing.
func (f *Field) Keys() []string {
	if !f.IsMap() || f.KeyBasic() != BasicWhole {
		return nil
	}
	rules, err := protovalidate.ResolveFieldRules(f.desc)
	if err != nil {
		return nil
	}
	bounds := rules.GetMap().GetKeys().GetInt32()
	var keys []string
	for key := bounds.GetGte(); bounds.HasGte() && bounds.HasLte() && key <= bounds.GetLte(); key++ {
		keys = append(keys, strconv.Itoa(int(key)))
	}
	return keys
}

// Type describes the field's type in a word or two for lists and help.
func (f *Field) Type() string {
	name := typeName(f.element(), f.Role)
	switch {
	case f.RefersTo == AnyKind:
		name = "record"
	case f.RefersTo != "":
		name = f.RefersTo
	}
	switch {
	case f.IsMap():
		return name + " by key"
	case f.IsList():
		return "list of " + name
	}
	return name
}

func typeName(desc protoreflect.FieldDescriptor, role recordv1.Role) string {
	switch role {
	case recordv1.Role_ROLE_DATE:
		return "date"
	case recordv1.Role_ROLE_CLOCK:
		return "clock"
	case recordv1.Role_ROLE_YARD_LINE:
		return "yard line"
	}
	switch desc.Kind() {
	case protoreflect.EnumKind:
		return "word"
	case protoreflect.BoolKind:
		return "yes or no"
	case protoreflect.StringKind:
		return "text"
	case protoreflect.MessageKind:
		return snake(string(desc.Message().Name()))
	case protoreflect.BytesKind:
		return "bytes"
	}
	return "number"
}

// element describes one value: of the key of a map, of the item of a list.
func (f *Field) element() protoreflect.FieldDescriptor {
	if f.IsMap() {
		return f.desc.MapValue()
	}
	return f.desc
}

func newField(desc protoreflect.FieldDescriptor) (*Field, error) {
	options := fieldOptions(desc)
	f := &Field{
		Number: uint32(desc.Number()), Name: string(desc.Name()), Label: options.GetLabel(), Help: options.GetHelp(),
		Aliases: options.GetAliases(), RefersTo: options.GetRefersTo(), KeyedBy: options.GetKeyedBy(), Role: options.GetRole(), desc: desc,
	}
	f.Label = cmp.Or(f.Label, f.Name)
	if !desc.IsMap() && !desc.IsList() && !desc.HasPresence() {
		return nil, fmt.Errorf("field %s: presence must be explicit", f.Name)
	}
	if f.RefersTo != "" && f.element().Kind() != protoreflect.BytesKind {
		return nil, fmt.Errorf("field %s: a reference is stored as bytes", f.Name)
	}
	if err := checkCanonical(f.element()); err != nil {
		return nil, fmt.Errorf("field %s: %w", f.Name, err)
	}
	if f.element().Kind() == protoreflect.EnumKind {
		f.enum = vocabularyOf(f.element().Enum())
	}
	return f, nil
}

func fieldOptions(desc protoreflect.FieldDescriptor) *recordv1.FieldOptions {
	return proto.GetExtension(desc.Options(), recordv1.E_Field).(*recordv1.FieldOptions)
}

// Basic is the plain type of one value, as [Register.Native] gives it.
type Basic int

// The plain types.
const (
	BasicText      Basic = iota + 1 // string; words of an enum and ids too
	BasicWhole                      // int64
	BasicFraction                   // float64
	BasicTruth                      // bool
	BasicStructure                  // map[string]any
)

// Basic returns the plain type of one value: of an item of a list, of one key of
// a map.
func (f *Field) Basic() Basic { return basicOf(f.element()) }

// KeyBasic returns the plain type of a map's keys.
func (f *Field) KeyBasic() Basic { return basicOf(f.desc.MapKey()) }

func basicOf(desc protoreflect.FieldDescriptor) Basic {
	switch desc.Kind() {
	case protoreflect.MessageKind:
		return BasicStructure
	case protoreflect.BoolKind:
		return BasicTruth
	case protoreflect.DoubleKind:
		return BasicFraction
	case protoreflect.Int32Kind, protoreflect.Int64Kind:
		return BasicWhole
	}
	return BasicText
}
