package record

import (
	"strconv"
	"strings"
	"sync"
	"unicode"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"plumbline/node/near"
	recordv1 "plumbline/proto/plumbline/record/v1"
)

// vocabulary is an enum as people type and read it: POSITION_TIGHT_END is
// tight_end, and TE for short.
type vocabulary struct {
	names   []string
	name    map[protoreflect.EnumNumber]string
	short   map[protoreflect.EnumNumber]string
	meaning map[string][]protoreflect.EnumNumber
}

var vocabularies sync.Map // protoreflect.FullName → *vocabulary

func vocabularyOf(enum protoreflect.EnumDescriptor) *vocabulary {
	if v, ok := vocabularies.Load(enum.FullName()); ok {
		return v.(*vocabulary)
	}
	v, _ := vocabularies.LoadOrStore(enum.FullName(), newVocabulary(enum))
	return v.(*vocabulary)
}

func newVocabulary(enum protoreflect.EnumDescriptor) *vocabulary {
	v := &vocabulary{
		name:    map[protoreflect.EnumNumber]string{},
		short:   map[protoreflect.EnumNumber]string{},
		meaning: map[string][]protoreflect.EnumNumber{},
	}
	prefix := snake(string(enum.Name())) + "_"
	for i := range enum.Values().Len() {
		value := enum.Values().Get(i)
		if value.Number() == 0 {
			continue // never stored: what is unset is absent
		}
		options := proto.GetExtension(value.Options(), recordv1.E_Value).(*recordv1.ValueOptions)
		name := strings.TrimPrefix(strings.ToLower(string(value.Name())), prefix)
		v.names = append(v.names, name)
		v.name[value.Number()] = name
		v.short[value.Number()] = options.GetShort()
		seen := map[string]bool{"": true}
		for _, word := range append([]string{name, options.GetShort()}, options.GetAliases()...) {
			if word = fold(word); !seen[word] {
				seen[word] = true
				v.meaning[word] = append(v.meaning[word], value.Number())
			}
		}
	}
	return v
}

// number returns the value that a person means. A word that means several is
// asked about.
func (v *vocabulary) number(typed string) (protoreflect.EnumNumber, error) {
	found := v.meaning[fold(typed)]
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		return 0, unknownWord{near.Hint(typed, v.names)}
	}
	var names []string
	for _, number := range found {
		names = append(names, v.name[number])
	}
	return 0, because("which one: %s?", near.Or(names))
}

// unknownWord is a word that isn't in the vocabulary, with what may have been
// meant.
type unknownWord struct{ hint string }

func (u unknownWord) Error() string { return "not one of the words for this" + u.hint }

// listedBy adds where all words stand, unless the hint has all of them.
func (u unknownWord) listedBy(kind string) error {
	if strings.HasPrefix(u.hint, "; known: ") {
		return u
	}
	return because("%s; all of them: plumbline fields %s", u, kind)
}

// synonyms returns the words that aren't just a name, folded, each with the names
// that it may mean.
func (v *vocabulary) synonyms() map[string][]string {
	all := map[string][]string{}
	for word, numbers := range v.meaning {
		if len(numbers) == 1 && fold(v.name[numbers[0]]) == word {
			continue
		}
		for _, number := range numbers {
			all[word] = append(all[word], v.name[number])
		}
	}
	return all
}

// snake turns a message's or an enum's name into the way names are typed.
func snake(name string) string {
	var b strings.Builder
	for i, r := range name {
		if unicode.IsUpper(r) && i > 0 {
			b.WriteByte('_')
		}
		b.WriteRune(unicode.ToLower(r))
	}
	return b.String()
}

// text returns a value's name; a newer version may have values without one here.
func (v *vocabulary) text(number protoreflect.EnumNumber) string {
	if name, ok := v.name[number]; ok {
		return name
	}
	return "value " + strconv.Itoa(int(number))
}
