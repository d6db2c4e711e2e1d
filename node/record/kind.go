package record

import (
	"fmt"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	"plumbline/node/near"
	recordv1 "plumbline/proto/plumbline/record/v1"
	"plumbline/sync/entry"
)

// Kind is one kind of record.
type Kind struct {
	Number entry.Kind
	// Class says who may write records of this kind.
	Class   entry.Class
	Name    string
	Aliases []string
	Help    string

	message protoreflect.MessageType
	fields  []*Field
	number  map[uint32]*Field
	name    map[string]*Field
}

// Fields returns the fields by number.
func (k *Kind) Fields() []*Field { return k.fields }

// Field returns the field of a number; a newer version may have more.
func (k *Kind) Field(number uint32) (*Field, bool) {
	f, ok := k.number[number]
	return f, ok
}

// FieldByName returns the field that a person means, by its name or an alias.
func (k *Kind) FieldByName(name string) (*Field, error) {
	if f, ok := k.name[fold(name)]; ok {
		return f, nil
	}
	var known []string
	for _, f := range k.fields {
		known = append(known, f.Name)
	}
	return nil, fmt.Errorf("%w: %s has no field %q%s", ErrUnknown, k.Name, name, near.Hint(name, known))
}

func newKind(message protoreflect.MessageDescriptor) (*Kind, error) {
	options := proto.GetExtension(message.Options(), recordv1.E_Kind).(*recordv1.KindOptions)
	class, err := classOf(options.GetRights())
	if err != nil {
		return nil, fmt.Errorf("%s: %w", message.Name(), err)
	}
	made, err := protoregistry.GlobalTypes.FindMessageByName(message.FullName())
	if err != nil {
		return nil, err
	}
	k := &Kind{
		Number: entry.Kind(options.GetNumber()), Class: class, Name: options.GetName(),
		Aliases: options.GetAliases(), Help: options.GetHelp(),
		message: made, number: map[uint32]*Field{}, name: map[string]*Field{},
	}
	if k.Number == 0 || k.Name == "" || message.Oneofs().Len() != syntheticOneofs(message) {
		return nil, fmt.Errorf("%s: a kind has a number, a name and no oneofs", message.Name())
	}
	descriptors := message.Fields()
	for i := range descriptors.Len() {
		f, err := newField(descriptors.Get(i))
		if err != nil {
			return nil, fmt.Errorf("%s: %w", k.Name, err)
		}
		k.fields = append(k.fields, f)
		k.number[f.Number] = f
	}
	return k, k.nameFields()
}

// nameFields lets names win over aliases, so that an alias never hides a field.
func (k *Kind) nameFields() error {
	for _, f := range k.fields {
		k.name[fold(f.Name)] = f
	}
	for _, f := range k.fields {
		for _, alias := range f.Aliases {
			if other, taken := k.name[fold(alias)]; taken && other != f {
				return fmt.Errorf("%s: %q is %s and %s", k.Name, alias, other.Name, f.Name)
			}
			k.name[fold(alias)] = f
		}
	}
	return nil
}

// syntheticOneofs counts the oneofs that only stand for explicit presence.
func syntheticOneofs(message protoreflect.MessageDescriptor) int {
	n := 0
	for i := range message.Oneofs().Len() {
		if message.Oneofs().Get(i).IsSynthetic() {
			n++
		}
	}
	return n
}

func classOf(rights recordv1.Rights) (entry.Class, error) {
	switch rights {
	case recordv1.Rights_RIGHTS_OWNED:
		return entry.Owned, nil
	case recordv1.Rights_RIGHTS_SHARED:
		return entry.Shared, nil
	case recordv1.Rights_RIGHTS_DIRECTOR:
		return entry.Directors, nil
	}
	return 0, fmt.Errorf("no class of rights for %s", rights)
}
