package record

import (
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
	"google.golang.org/protobuf/reflect/protoreflect"

	recordv1 "plumbline/proto/plumbline/record/v1"
	"plumbline/sync/entry"
)

const nothingTyped = "nothing typed; to take a value away, clear it"

// Parse reads what a person types for a register. Records are named by their ids.
// Errors are of type *[Invalid].
func (r Register) Parse(typed string) (Value, error) {
	if strings.TrimSpace(typed) == "" {
		return Value{}, &Invalid{r.Path(), typed, nothingTyped}
	}
	v, err := r.parse(typed)
	if err != nil {
		return Value{}, r.invalid(typed, err)
	}
	if err := r.check(typed, v); err != nil {
		return Value{}, err
	}
	return r.seal(v), nil
}

func (r Register) parse(typed string) (protoreflect.Value, error) {
	if !r.Field.IsList() {
		return r.parseOne(typed)
	}
	out := r.blank()
	for _, item := range strings.FieldsFunc(typed, func(c rune) bool { return c == ',' || c == ';' }) {
		v, err := r.parseOne(item)
		if err != nil {
			return out, err
		}
		out.List().Append(v)
	}
	return out, nil
}

func (r Register) parseOne(typed string) (protoreflect.Value, error) {
	desc := r.Field.element()
	if desc.Kind() == protoreflect.MessageKind {
		return parseMessage(desc, typed)
	}
	if r.Field.RefersTo != "" {
		return parseID(typed)
	}
	return parseScalar(desc, r.Field.Role, typed)
}

func parseID(typed string) (protoreflect.Value, error) {
	id, err := entry.ParseRecordID(strings.TrimSpace(typed))
	if err != nil {
		return protoreflect.Value{}, because("not the id of a record")
	}
	return protoreflect.ValueOfBytes([]byte(id)), nil
}

func parseScalar(desc protoreflect.FieldDescriptor, role recordv1.Role, typed string) (protoreflect.Value, error) {
	switch role {
	case recordv1.Role_ROLE_TEXT:
		text, err := cleanText(typed)
		return protoreflect.ValueOfString(text), err
	case recordv1.Role_ROLE_CLOCK:
		return parseClock(typed)
	case recordv1.Role_ROLE_YARD_LINE:
		return parseYardLine(typed)
	}
	switch desc.Kind() {
	case protoreflect.StringKind:
		text, err := cleanLine(typed)
		return protoreflect.ValueOfString(text), err
	case protoreflect.EnumKind:
		n, err := vocabularyOf(desc.Enum()).number(typed)
		return protoreflect.ValueOfEnum(n), err
	case protoreflect.BoolKind:
		return parseBool(typed)
	case protoreflect.Int32Kind, protoreflect.Int64Kind:
		return parseInteger(desc, typed)
	}
	return protoreflect.Value{}, because("a %s can't be typed", desc.Kind())
}

func parseInteger(desc protoreflect.FieldDescriptor, typed string) (protoreflect.Value, error) {
	bits := 64
	if desc.Kind() == protoreflect.Int32Kind {
		bits = 32
	}
	if said := fold(typed); desc.Name() == "quarter" && (said == "ot" || said == "overtime") {
		typed = overtime
	}
	n, err := strconv.ParseInt(strings.TrimSpace(typed), 10, bits)
	if err != nil {
		return protoreflect.Value{}, because("not a whole number, such as %s", exampleOf(desc))
	}
	if bits == 32 {
		return protoreflect.ValueOfInt32(int32(n)), nil
	}
	return protoreflect.ValueOfInt64(n), nil
}

// overtime is the quarter that stands for it, which people call by its name or
// OT: common practice, no source.
const overtime = "5"

// exampleOf is a number of the field's size: a year isn't 6.
func exampleOf(desc protoreflect.FieldDescriptor) string {
	switch desc.Name() {
	case "class_year", "season":
		return "2027"
	case "quarter":
		return "2"
	}
	return "6"
}

func parseBool(typed string) (protoreflect.Value, error) {
	switch fold(typed) {
	case "yes", "y", "true":
		return protoreflect.ValueOfBool(true), nil
	case "no", "n", "false":
		return protoreflect.ValueOfBool(false), nil
	}
	return protoreflect.Value{}, because("type yes or no")
}

// cleanText makes one form of what different systems make of the same prose, so
// that equal words are equal values: composed characters, one kind of line end,
// no spaces at the ends.
func cleanText(typed string) (string, error) {
	if !utf8.ValidString(typed) {
		return "", because("not UTF-8; save the text as UTF-8 and try again")
	}
	text := strings.ReplaceAll(strings.ReplaceAll(typed, "\r\n", "\n"), "\r", "\n")
	text = strings.TrimSpace(norm.NFC.String(text))
	for _, c := range text {
		if unicode.IsControl(c) && c != '\n' && c != '\t' {
			return "", because("holds a control character (%U); leave it out", c)
		}
	}
	return text, nil
}

// cleanLine does the same for what stands on one line.
func cleanLine(typed string) (string, error) {
	text, err := cleanText(typed)
	if err == nil && strings.ContainsAny(text, "\n\t") {
		err = because("this is one line; leave out line breaks and tabs")
	}
	return text, err
}
