package record

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"plumbline/sync/entry"
)

// Value is what a change carries: canonical bytes, or the id of the record that
// a reference points to.
type Value struct {
	Op    entry.Op
	Bytes []byte
}

// Register is one field of a kind, or one key of a map field.
type Register struct {
	Kind  *Kind
	Field *Field
	// Key is the key of a map field in its text form, else empty.
	Key string
}

// Register finds a register by what a person types: a field's name or alias, and
// behind a dot the key of a map field, as in grades.hand_use or anchors.7.
func (k *Kind) Register(path string) (Register, error) {
	name, key, keyed := strings.Cut(path, ".")
	f, err := k.FieldByName(name)
	if err != nil {
		return Register{}, err
	}
	r := Register{Kind: k, Field: f}
	switch {
	case f.IsMap() && key == "":
		return Register{}, &Invalid{path, key, fmt.Sprintf("%s has one value for each key; type %s.KEY", f.Name, f.Name)}
	case !f.IsMap() && keyed:
		return Register{}, &Invalid{path, key, fmt.Sprintf("%s is one value as a whole; leave out what is behind the dot", f.Name)}
	case !f.IsMap():
		return r, nil
	}
	if _, r.Key, err = mapKey(f.desc.MapKey(), key); err != nil {
		return Register{}, &Invalid{path, key, err.Error()}
	}
	return r, nil
}

// At finds the register that a change of the ledger names. A newer version may
// know registers that this one doesn't.
func (k *Kind) At(address entry.Register) (Register, bool) {
	f, ok := k.Field(address.Field)
	if !ok || f.IsMap() != address.Keyed {
		return Register{}, false
	}
	if f.IsMap() {
		if _, key, err := mapKey(f.desc.MapKey(), address.Key); err != nil || key != address.Key {
			return Register{}, false
		}
	}
	return Register{Kind: k, Field: f, Key: address.Key}, true
}

// Address is the register as a change of the ledger names it.
func (r Register) Address() entry.Register {
	return entry.Register{Field: r.Field.Number, Keyed: r.Field.IsMap(), Key: r.Key}
}

// Path is the register as a person types it.
func (r Register) Path() string {
	if r.Field.IsMap() {
		return r.Field.Name + "." + r.Key
	}
	return r.Field.Name
}

// mapKey reads a key and gives its one text form.
func mapKey(desc protoreflect.FieldDescriptor, typed string) (protoreflect.MapKey, string, error) {
	if desc.Kind() == protoreflect.StringKind {
		key, err := cleanLine(typed)
		if err == nil && strings.ContainsAny(key, ". ") {
			err = because("a key has no spaces and no dots")
		}
		return protoreflect.ValueOfString(key).MapKey(), key, err
	}
	n, err := strconv.ParseInt(strings.TrimSpace(typed), 10, 32)
	if err != nil {
		err = because("the key is a whole number")
	}
	return protoreflect.ValueOfInt32(int32(n)).MapKey(), strconv.FormatInt(n, 10), err
}

// blank returns a new empty value for the register's lists and messages.
func (r Register) blank() protoreflect.Value {
	m := r.Kind.message.New()
	switch {
	case r.Field.IsMap():
		return m.Mutable(r.Field.desc).Map().NewValue()
	case r.Field.IsList() || r.Field.desc.Message() != nil:
		return m.NewField(r.Field.desc)
	}
	return protoreflect.Value{}
}

// seal turns a checked value into what a change carries.
func (r Register) seal(v protoreflect.Value) Value {
	if r.Field.IsRef() {
		return Value{entry.OpReference, v.Bytes()}
	}
	return Value{entry.OpValue, encode(nil, r.Field.element(), v)}
}

// open is the inverse of seal.
func (r Register) open(v Value) (protoreflect.Value, error) {
	want := entry.OpValue
	if r.Field.IsRef() {
		want = entry.OpReference
	}
	if v.Op != want {
		return protoreflect.Value{}, fmt.Errorf("%s: %w", r.Path(), unreadable("a reference where a value stands, or the reverse"))
	}
	out, err := decode(r.Field.element(), r.blank(), v.Bytes)
	if err != nil {
		return protoreflect.Value{}, fmt.Errorf("%s: %w", r.Path(), err)
	}
	return out, nil
}

// Set puts a stored value into the field of a kind's message, for computations
// that want all of a record at once.
func (r Register) Set(m proto.Message, v Value) error {
	out, err := r.open(v)
	if err != nil {
		return err
	}
	r.put(m.ProtoReflect(), out)
	return nil
}

func (r Register) put(m protoreflect.Message, v protoreflect.Value) {
	if !r.Field.IsMap() {
		m.Set(r.Field.desc, v)
		return
	}
	// The key was read when the register was found.
	key, _, _ := mapKey(r.Field.desc.MapKey(), r.Key)
	m.Mutable(r.Field.desc).Map().Set(key, v)
}

// New returns an empty message of the kind, to be filled by [Register.Set].
func (k *Kind) New() proto.Message { return k.message.New().Interface() }

// invalid names the register in an error about something typed for it.
func (r Register) invalid(typed string, err error) error {
	var problem *Invalid
	if errors.As(err, &problem) {
		return err
	}
	var word unknownWord
	if errors.As(err, &word) {
		err = word.listedBy(r.Kind.Name)
	}
	return &Invalid{r.Path(), typed, err.Error()}
}
