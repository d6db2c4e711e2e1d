package query

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"cel.dev/cel-go/cel"
	"pgregory.net/rapid"

	"plumbline/node/record"
)

// fields are those of an invented staff: a prospect, its measurements in the
// trade's notation, and an evaluation.
func fields(t testing.TB) Fields {
	prospect, ok := record.Stored().Kind(record.Prospect)
	if !ok {
		t.Fatal("no kind prospect")
	}
	evaluation, _ := record.Stored().Kind(record.Evaluation)
	rep, _ := record.Stored().Kind(record.Rep)
	return Declare(rep).Add(Declare(evaluation)).Add(Declare(prospect)).Add(Fields{
		"height": {Type: cel.DoubleType},
		"arm":    {Type: cel.DoubleType},
		"forty":  {Type: cel.DoubleType},
		"seen":   {Type: cel.ListType(cel.StringType)},
		"active": {Type: cel.BoolType},
	})
}

var values = map[string]any{
	"name": "Abel Quill", "position": "tackle", "class_year": int64(2027), "height": 6046.0, "arm": 334.0,
	"overall": int64(6), "grades": map[string]int64{"hand_use": 7, "feet": 5},
	"seen": []any{"late_hands", "lunging"}, "filed": map[string]any{"date": "2026-11-26", "by": nil},
	"active": true, "school": nil,
}

func match(t *testing.T, text string) bool {
	t.Helper()
	p, err := Compile(fields(t), text)
	if err != nil {
		t.Fatalf("%s: %v", text, err)
	}
	got, err := p.Match(values)
	if err != nil {
		t.Fatalf("%s: %v", text, err)
	}
	return got
}

func TestMatch(t *testing.T) {
	for text, want := range map[string]bool{
		`position == "tackle" && arm >= 332`:                       true,
		`position in ["guard", "center"]`:                          false,
		`height >= 6050`:                                           false,
		`class_year == 2027 && name.startsWith("Abel")`:            true,
		`grades.hand_use > grades.feet`:                            true,
		`grades["feet"] == 5`:                                      true,
		`grades.exists(g, grades[g] >= 7)`:                         true,
		`"lunging" in seen && size(seen) == 2`:                     true,
		`seen.exists(s, s.matches("^late"))`:                       true,
		`filed.date > "2026-01-01"`:                                true,
		`active ? overall > 5 : overall > 7`:                       true,
		`overall > 5.5`:                                            true, // CEL: numbers compare across types
		`(overall + 1) * 2 == 14`:                                  true,
		"overall > 5 // a comment\n && arm > 330":                  true,
		`known(arm) && known(grades.feet) && has(grades.hand_use)`: true,
	} {
		if got := match(t, text); got != want {
			t.Errorf("%s: got %t, want %t", text, got, want)
		}
	}
}

// Whole numbers and decimals are compared by what they say: what is expected here is arithmetic, and of missing
// values what missing.go promises.
func TestNumbersCompareWhateverTheirKind(t *testing.T) {
	for text, want := range map[string]bool{
		`overall == 6.0`: true, `overall == 6.5`: false, `6.0 == overall`: true, `overall != 6.0`: false, `overall != 6.5`: true,
		`arm == 334`: true, `arm != 334`: false, `334 == arm`: true, `arm == 335`: false, `arm == overall`: false,
		`overall in [6.0, 7.0]`: true, `overall in [5.5]`: false, `arm in [333, 334]`: true, `arm in [335]`: false, `arm in [333.5, 334]`: true,
		`[arm] == [334]`: true, `grades.hand_use == 7.0`: true, `grades.exists(g, grades[g] == 5.0)`: true,
		`overall == 6.0 && arm == 334 && class_year == 2027.0`: true, `!(overall == 6.0) || arm == 1`: false,
		`arm + 1 == 335`: true, `1 + arm == 335.0`: true, `arm - overall == 328`: true, `overall / 4.0 == 1.5`: true, `2 * arm > 667`: true,
		`forty == 5`: false, `forty != 5`: false, `!(forty == 5)`: true, `forty in [5]`: false, `forty + 1 > 0`: false, `grades.bend == 5.0`: false,
	} {
		if got := match(t, text); got != want {
			t.Errorf("%s: got %t, want %t", text, got, want)
		}
	}
	p, err := Compile(fields(t), `arm == 334 && overall in [6.0]`)
	if err != nil {
		t.Fatal(err)
	}
	if want := []string{"arm", "overall"}; !slices.Equal(p.Uses(), want) || len(p.Parts()) != 2 {
		t.Errorf("it looks at %q in %d parts, want %q in 2", p.Uses(), len(p.Parts()), want)
	}
}

// Missing are: forty and strengths (absent), school and filed.by (nil),
// grades.bend (no key), seen[9] (no item), clip and reach (absent).
func TestMissingIsFalse(t *testing.T) {
	for _, missing := range []string{
		`forty < 5.0`, `forty <= 5.0`, `forty > 5.0`, `forty >= 5.0`, `forty == 5.0`, `forty != 5.0`, `5.0 > forty`,
		`school == "Norte"`, `school != "Norte"`, `school.contains("N")`, `school in ["a", "b"]`, `size(school) > 0`,
		`grades.bend >= 5`, `grades["bend"] != 5`, `grades.bend == grades.feet`, `grades.bend + 1 > 0`,
		`seen[9] == "x"`, `filed.by == "x"`, `filed.at < "2027"`,
		`clip.film == "a"`, `has(clip.film)`, `strengths.matches(".*")`,
		`reach == "year_one"`, `known(forty)`, `known(school)`, `known(grades.bend)`, `known(clip.film)`,
		`has(grades.bend)`, `strengths == concerns`, `[forty, 1.0] == [1.0, 1.0]`,
		`(forty > 5.0 ? 1 : 2) == 1`, `(active ? forty : 1.0) < 9.0`,
	} {
		if match(t, missing) {
			t.Errorf("%s is true", missing)
		}
		if !match(t, "!("+missing+")") {
			t.Errorf("!(%s) is false", missing)
		}
		if match(t, missing+" && active") || !match(t, missing+" || active") {
			t.Errorf("%s isn't false beside && or ||", missing)
		}
	}
	// A yes or no that is missing itself.
	p, err := Compile(fields(t), "!active")
	if err != nil {
		t.Fatal(err)
	}
	if yes, err := p.Match(map[string]any{}); !yes || err != nil {
		t.Errorf("!active without active: got %t, %v; want true", yes, err)
	}
}

// Errors other than missing values are CEL's: taken from its conformance tests,
// google/cel-spec tests/simple/testdata/logic.textproto, sections AND, OR, NOT.
func TestConformanceLogic(t *testing.T) {
	for text, want := range map[string]bool{
		`true && true`:                        true,
		`false && (2 / 0 > 3 ? false : true)`: false, // short_circuit_error_left
		`(2 / 0 > 3 ? false : true) && false`: false, // short_circuit_error_right
		`true || (2 / 0 > 3 ? false : true)`:  true,  // short_circuit_error_left
		`(2 / 0 > 3 ? false : true) || true`:  true,  // short_circuit_error_right
		`!true`:                               false,
		`!false`:                              true,
	} {
		if got := match(t, text); got != want {
			t.Errorf("%s: got %t, want %t", text, got, want)
		}
	}
	for _, text := range []string{`true && 1/0 != 0`, `1/0 != 0 && true`, `false || 1/0 != 0`, `1/0 != 0 || false`} {
		p, err := Compile(fields(t), text)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := p.Match(values); err == nil || !strings.Contains(err.Error(), "division by zero") {
			t.Errorf("%s: got %t, %v; want an error (error_left, error_right)", text, got, err)
		}
	}
}

func TestErrorsPointAtThePlace(t *testing.T) {
	for _, c := range []struct {
		text         string
		line, column int
		says         string
	}{
		{`positon == "tackle"`, 1, 1, `nothing is called "positon" here; did you mean position?`},
		{`position == tackle`, 1, 13, `words stand in quotes: "tackle"`},
		{`position == "tackel"`, 1, 13, `position is never "tackel"; did you mean tackle?`},
		{`position in ["guard", "gaurd"]`, 1, 23, `did you mean guard?`},
		{`"OT" != position`, 1, 1, `position is never "OT"`},
		{`overall > "5"`, 1, 9, `> doesn't work with (a whole number, text)`},
		{`overall == "5"`, 1, 9, `== doesn't work with (a whole number, text)`},
		{`arm == 334 && name == 5`, 1, 20, `== doesn't work with (text, a whole number)`},
		{`arm in ["334"]`, 1, 5, `in doesn't work with (a number, list(text))`},
		{`arm + name == 6`, 1, 5, `+ doesn't work with (a number, text)`},
		{`overall = 5`, 1, 9, `write == to compare`},
		{"overall > 5 &&\n  arm >", 2, 8, `ends too early`},
		{`overall + 1`, 1, 9, `yes or no is wanted`},
		{`overall`, 1, 1, `this gives a whole number`},
		{`name.lenght() > 3`, 1, 12, `lenght`},
		{`(overall > 5`, 1, 13, `ends too early`},
		{``, 1, 1, `ends too early`},
		{strings.Repeat("(", 200) + "active" + strings.Repeat(")", 200), 1, 1, `nested too deeply`},
		{strings.Repeat(" ", 4000) + "true", 1, 1, `longer than 4000`},
	} {
		_, err := Compile(fields(t), c.text)
		var problem *Error
		if !errors.As(err, &problem) {
			t.Errorf("%q: got %v, want an *Error", c.text, err)
			continue
		}
		if problem.Line != c.line || problem.Column != c.column || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%q: got\n%v\nwant line %d, column %d and %q", c.text, err, c.line, c.column, c.says)
		}
	}
}

func TestCaret(t *testing.T) {
	_, err := Compile(fields(t), "active &&\n\tnäme == \"x\"")
	want := "line 2, column 3: "
	if err == nil || !strings.HasPrefix(err.Error(), want) || !strings.HasSuffix(err.Error(), "\n  \t ^") {
		t.Errorf("got %q; want %q and a caret under the place", err, want)
	}
}

func TestCostIsBounded(t *testing.T) {
	many := Fields{"xs": {Type: cel.ListType(cel.IntType)}}
	p, err := Compile(many, `xs.all(a, xs.all(b, xs.all(c, a + b + c >= 0)))`)
	if err != nil {
		t.Fatal(err)
	}
	xs := make([]int64, 1000)
	if _, err := p.Match(map[string]any{"xs": xs}); !errors.Is(err, ErrTooCostly) {
		t.Errorf("got %v, want %v", err, ErrTooCostly)
	}
	if yes, err := p.Match(map[string]any{"xs": xs[:10]}); !yes || err != nil {
		t.Errorf("a short list: got %t, %v", yes, err)
	}
}

func TestUses(t *testing.T) {
	p, err := Compile(fields(t), `grades.feet > 5 && position == "guard" && seen.exists(s, s == name)`)
	if err != nil {
		t.Fatal(err)
	}
	if want := []string{"grades", "name", "position", "seen"}; !slices.Equal(p.Uses(), want) {
		t.Errorf("got %q, want %q", p.Uses(), want)
	}
}

// Expressions of and, or, not over comparisons, some with missing values, agree
// with a plain reading of them in which a comparison with nothing is false.
func TestAgreesWithAModel(t *testing.T) {
	names := []string{"a", "b", "c"}
	declared := Fields{}
	for _, name := range names {
		declared[name] = Field{Type: cel.IntType}
	}
	rapid.Check(t, func(t *rapid.T) {
		vars, model := map[string]any{}, map[string]*int64{}
		for _, name := range names {
			if rapid.Bool().Draw(t, "present") {
				n := rapid.Int64Range(0, 3).Draw(t, name)
				vars[name], model[name] = n, &n
			}
		}
		text, want := drawExpression(t, names, model, 4)
		p, err := Compile(declared, text)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := p.Match(vars); err != nil || got != want {
			t.Fatalf("%s with %v: got %t, %v; want %t", text, vars, got, err, want)
		}
		if got, err := matchParts(p, vars); err != nil || got != want {
			t.Fatalf("the parts of %s with %v: got %t, %v; want %t", text, vars, got, err, want)
		}
	})
}

// drawExpression returns an expression and what it means.
func drawExpression(t *rapid.T, names []string, model map[string]*int64, depth int) (string, bool) {
	shape := 0
	if depth > 0 {
		shape = rapid.IntRange(0, 3).Draw(t, "shape")
	}
	switch shape {
	case 1:
		text, yes := drawExpression(t, names, model, depth-1)
		return "!(" + text + ")", !yes
	case 2, 3:
		left, l := drawExpression(t, names, model, depth-1)
		right, r := drawExpression(t, names, model, depth-1)
		if shape == 2 {
			return "(" + left + " && " + right + ")", l && r
		}
		return "(" + left + " || " + right + ")", l || r
	}
	left, right := rapid.SampledFrom(names).Draw(t, "left"), rapid.SampledFrom(names).Draw(t, "right")
	op := rapid.SampledFrom([]string{"==", "!=", "<", "<=", ">", ">="}).Draw(t, "op")
	l, r := model[left], model[right]
	if l == nil || r == nil {
		return left + " " + op + " " + right, false
	}
	holds := map[string]bool{"==": *l == *r, "!=": *l != *r, "<": *l < *r, "<=": *l <= *r, ">": *l > *r, ">=": *l >= *r}
	return left + " " + op + " " + right, holds[op]
}

func BenchmarkMatch(b *testing.B) {
	p, err := Compile(fields(b), `position == "tackle" && arm >= 332 && grades.hand_use > 5 && !(forty > 5.3)`)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if yes, err := p.Match(values); !yes || err != nil {
			b.Fatal(yes, err)
		}
	}
}
