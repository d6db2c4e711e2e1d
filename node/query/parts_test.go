package query

import (
	"strings"
	"testing"
)

func TestParts(t *testing.T) {
	p, err := Compile(fields(t), `arm > 3 && (name == "x" || active) && known(school) && class_year > 2027`)
	if err != nil {
		t.Fatal(err)
	}
	var uses []string
	for _, part := range p.Parts() {
		uses = append(uses, strings.Join(part.Uses(), " "))
	}
	if got, want := strings.Join(uses, "|"), "arm|active name|school|class_year"; got != want {
		t.Errorf("the parts use %s, want %s", got, want)
	}
}

// One part that says no outweighs another one's error, as in CEL's conformance
// tests for AND (see TestConformanceLogic).
func TestPartsFailAsTheWholeDoes(t *testing.T) {
	for _, text := range []string{`true && 1/0 != 0`, `1/0 != 0 && false`, `false && 1/0 != 0`, `active && !(1/0 != 0)`, `1/0 != 0`} {
		p, err := Compile(fields(t), text)
		if err != nil {
			t.Fatal(err)
		}
		whole, failed := p.Match(values)
		yes, partly := matchParts(p, values)
		if yes != whole || (partly == nil) != (failed == nil) {
			t.Errorf("%s: whole %t, %v; parts %t, %v", text, whole, failed, yes, partly)
		}
	}
}

func matchParts(p *Program, vars map[string]any) (bool, error) {
	var failed error
	for _, part := range p.Parts() {
		yes, err := part.Match(vars)
		if err != nil {
			failed = err
		} else if !yes {
			return false, nil
		}
	}
	return failed == nil, failed
}
