package record

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"sync"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	"plumbline/node/near"
	recordv1 "plumbline/proto/plumbline/record/v1"
	"plumbline/sync/entry"
)

// Schema is the set of kinds. It never changes after it was read.
type Schema struct {
	kinds  []*Kind
	number map[entry.Kind]*Kind
	name   map[string]*Kind
}

// Stored returns the schema that this program was built with.
var Stored = sync.OnceValue(func() *Schema {
	s, err := read(recordv1.File_plumbline_record_v1_options_proto.Package())
	if err != nil {
		panic("record: the built-in schema is wrong: " + err.Error())
	}
	return s
})

// Kinds returns all kinds by number.
func (s *Schema) Kinds() []*Kind { return s.kinds }

// Kind returns the kind of a number; a newer version may have more.
func (s *Schema) Kind(number entry.Kind) (*Kind, bool) {
	k, ok := s.number[number]
	return k, ok
}

// KindOf returns the kind of a record.
func (s *Schema) KindOf(id entry.RecordID) (*Kind, bool) {
	if !id.Valid() {
		return nil, false
	}
	return s.Kind(id.Kind())
}

// KindByName returns the kind that a person means, by its name or an alias.
func (s *Schema) KindByName(name string) (*Kind, error) {
	if k, ok := s.name[fold(name)]; ok {
		return k, nil
	}
	var known []string
	for _, k := range s.kinds {
		known = append(known, k.Name)
	}
	return nil, fmt.Errorf("%w: no kind of record is called %q%s", ErrUnknown, name, near.Hint(name, known))
}

// read finds the messages of a package that are kinds.
func read(pkg protoreflect.FullName) (*Schema, error) {
	s := &Schema{number: map[entry.Kind]*Kind{}, name: map[string]*Kind{}}
	var failure error
	protoregistry.GlobalFiles.RangeFilesByPackage(pkg, func(file protoreflect.FileDescriptor) bool {
		messages := file.Messages()
		for i := range messages.Len() {
			if proto.HasExtension(messages.Get(i).Options(), recordv1.E_Kind) {
				failure = cmp.Or(failure, s.add(messages.Get(i)))
			}
		}
		return true
	})
	slices.SortFunc(s.kinds, func(a, b *Kind) int { return cmp.Compare(a.Number, b.Number) })
	return s, failure
}

func (s *Schema) add(message protoreflect.MessageDescriptor) error {
	k, err := newKind(message)
	if err != nil {
		return err
	}
	if other, taken := s.number[k.Number]; taken {
		return fmt.Errorf("%s and %s have the number %d", other.Name, k.Name, k.Number)
	}
	s.number[k.Number] = k
	for _, name := range append([]string{k.Name}, k.Aliases...) {
		if other, taken := s.name[fold(name)]; taken {
			return fmt.Errorf("%s and %s are both called %q", other.Name, k.Name, name)
		}
		s.name[fold(name)] = k
	}
	s.kinds = append(s.kinds, k)
	return nil
}

// fold makes one form of the ways to type a name: Hand use, hand-use, hand_use.
// What is only marks, such as +, stays.
func fold(name string) string {
	lower := strings.ToLower(strings.TrimSpace(name))
	if bare := foldMarks.Replace(lower); bare != "" {
		return bare
	}
	return lower
}

var foldMarks = strings.NewReplacer(" ", "", "_", "", "-", "")
