package query

import (
	"errors"
	"testing"
)

// FuzzExpression compiles and asks anything: it is refused with its place, or it
// answers within its bounds.
func FuzzExpression(f *testing.F) {
	for _, text := range []string{
		`position == "tackle" && arm >= 332`, `grades.hand_use > grades["feet"]`, `known(school) || seen.exists(s, s == "lunging")`,
		`name.matches("^A.*l$")`, `[1,2].map(x, x * class_year).size() > 1`, `filed.date < "2027" ? active : !active`, `"a" +`, `position in [`,
	} {
		f.Add(text)
	}
	declared := fields(f)
	f.Fuzz(func(t *testing.T, text string) {
		p, err := Compile(declared, text)
		if err != nil {
			var placed *Error
			if !errors.As(err, &placed) || placed.Line < 1 || placed.Column < 1 {
				t.Errorf("%q: %v names no place", text, err)
			}
			return
		}
		p.Uses()
		if _, err := p.Match(values); err != nil && err.Error() == "" {
			t.Errorf("%q: an error without words", text)
		}
		if _, err := p.Match(nil); err != nil && err.Error() == "" {
			t.Errorf("%q on nothing: an error without words", text)
		}
	})
}
