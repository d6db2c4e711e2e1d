package query

import (
	"maps"
	"slices"

	"cel.dev/cel-go/cel"

	"plumbline/node/record"
)

// Field is one name that an expression may use.
type Field struct {
	Type *cel.Type
	// Values are the words that the field can hold, if it is one of a few. A
	// comparison with any other is refused as a slip of the pen.
	Values []string
}

// Fields are the names that an expression may use.
type Fields map[string]Field

// Names returns the names in order.
func (f Fields) Names() []string { return slices.Sorted(maps.Keys(f)) }

// Add returns f with other names added; they win.
func (f Fields) Add(other Fields) Fields {
	both := maps.Clone(f)
	maps.Copy(both, other)
	return both
}

// Declare returns the fields of a kind of record, as [record.Register.Native]
// gives their values: a field with keys is a map (grades.hand_use), a message is
// one too (filed.date).
func Declare(k *record.Kind) Fields {
	fields := Fields{}
	for _, f := range k.Fields() {
		t := basic(f.Basic())
		switch {
		case f.IsMap():
			t = cel.MapType(basic(f.KeyBasic()), t)
		case f.IsList():
			t = cel.ListType(t)
		}
		fields[f.Name] = Field{Type: t, Values: f.Values()}
	}
	return fields
}

func basic(b record.Basic) *cel.Type {
	switch b {
	case record.BasicWhole:
		return cel.IntType
	case record.BasicFraction:
		return cel.DoubleType
	case record.BasicTruth:
		return cel.BoolType
	case record.BasicStructure:
		return cel.MapType(cel.StringType, cel.DynType)
	default:
		return cel.StringType
	}
}
