package importer

import (
	"slices"
	"strings"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"
)

// A natural key is what a record is known by wherever it comes from, so that two
// people who import one list make the same records:
//
//   - prospect: the list's own id, else name, school and class year; a jersey
//     changes. One whose row says that it is another one of that name: the list's
//     own id, else all that the row says but measurements, which may be corrected
//   - measurement: prospect, what, source, date and the number as typed
//   - game: date, home, away
//   - look: prospect and game; rep: look and number; evaluation: prospect. Their
//     person is in the record's id already
//
// Parts are folded, so that capitals, spaces and ways to compose an accent don't
// make two records of one.

const (
	unitSeparator  = "\x1f"
	groupSeparator = "\x1d"
)

func key(parts ...string) string {
	folded := make([]string, len(parts))
	for i, part := range parts {
		folded[i] = fold(part)
	}
	return strings.Join(folded, unitSeparator)
}

// within makes the key of what belongs to other records from their keys.
func within(keys []string, parts ...string) string {
	return strings.Join(append(keys, key(parts...)), groupSeparator)
}

func prospectKey(listID, name, school, classYear string) string {
	if listID != "" {
		return key("list", listID)
	}
	return key("name", name, school, classYear)
}

// anotherKey is that of a row which isn't about whoever has its name: the row read
// again is the same one, and one that says anything else is another.
func anotherKey(fields []FieldValue) string {
	said := make([]string, 0, len(fields))
	for _, f := range fields {
		if value, err := f.Register.Text(f.Value); err == nil {
			said = append(said, f.Register.Path()+"="+value)
		}
	}
	slices.Sort(said)
	return key(append([]string{AnotherOne}, said...)...)
}

// fold makes one form of the same words.
func fold(text string) string {
	composed := norm.NFC.String(cases.Fold().String(norm.NFC.String(text)))
	return strings.Join(strings.FieldsFunc(composed, func(r rune) bool {
		return r == ' ' || r == '\u00a0' || r == '\t' || r == '\n' || r == '\r'
	}), " ")
}
