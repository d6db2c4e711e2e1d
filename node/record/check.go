package record

import (
	"errors"
	"regexp"
	"strings"

	"buf.build/go/protovalidate"
	"google.golang.org/protobuf/reflect/protoreflect"

	recordv1 "plumbline/proto/plumbline/record/v1"
	"plumbline/sync/entry"
)

// Check says whether a stored value keeps the rules of its field. Only the node
// on which a value is written asks; what arrives from others is never refused.
func (r Register) Check(v Value) error {
	out, err := r.open(v)
	if err != nil {
		return err
	}
	return r.check("", out)
}

// check holds a value to its reference, its role, and the rules in the schema.
func (r Register) check(typed string, v protoreflect.Value) error {
	if element := r.Field.element(); element.Kind() == protoreflect.StringKind && !element.IsList() && v.String() == "" {
		return &Invalid{r.Path(), typed, nothingTyped}
	}
	if err := checkRoles(r.Field.element(), r.Field.Role, v); err != nil {
		return r.invalid(typed, err)
	}
	if r.Field.RefersTo != "" {
		if err := r.checkReferences(v); err != nil {
			return r.invalid(typed, err)
		}
	}
	m := r.Kind.message.New()
	r.put(m, v)
	return r.checkRules(typed, protovalidate.Validate(m.Interface()))
}

func (r Register) checkRules(typed string, err error) error {
	var failed *protovalidate.ValidationError
	if !errors.As(err, &failed) {
		return err
	}
	text := strings.TrimPrefix(failed.Violations[0].Proto.GetMessage(), "value ")
	text = bounds.ReplaceAllString(text, "must be from $1 to $2")
	// A rule with words of its own needs no more of them.
	if r.Field.Help != "" && strings.HasPrefix(text, "must ") {
		text += " (" + r.Field.Help + ")"
	}
	return r.invalid(typed, errors.New(text))
}

// bounds is how the library words a range.
var bounds = regexp.MustCompile(`^must be greater than or equal to (\S+) and less than or equal to (\S+)$`)

// checkReferences holds ids to the kind that the field points to.
func (r Register) checkReferences(v protoreflect.Value) error {
	if !r.Field.IsList() {
		return r.checkReference(v.Bytes())
	}
	for i := range v.List().Len() {
		if err := r.checkReference(v.List().Get(i).Bytes()); err != nil {
			return err
		}
	}
	return nil
}

func (r Register) checkReference(b []byte) error {
	id := entry.RecordID(b)
	if !id.Valid() {
		return because("not the id of a record")
	}
	if r.Field.RefersTo == AnyKind {
		return nil
	}
	want, err := Stored().KindByName(r.Field.RefersTo)
	if err != nil {
		return err
	}
	if id.Kind() != want.Number {
		found := "another kind"
		if k, ok := Stored().KindOf(id); ok {
			found = k.Name
		}
		return because("the id of a %s is wanted here, and this is the id of a %s", want.Name, found)
	}
	return nil
}

// checkRoles holds dates to the calendar, inside messages too; the schema's rules
// can't.
func checkRoles(desc protoreflect.FieldDescriptor, role recordv1.Role, v protoreflect.Value) error {
	if role == recordv1.Role_ROLE_DATE && !desc.IsList() {
		if err := checkDay(v.String()); err != nil {
			return err
		}
	}
	if desc.Kind() != protoreflect.MessageKind || desc.IsList() {
		return nil
	}
	var failure error
	v.Message().Range(func(inner protoreflect.FieldDescriptor, v protoreflect.Value) bool {
		failure = checkRoles(inner, fieldOptions(inner).GetRole(), v)
		return failure == nil
	})
	return failure
}
