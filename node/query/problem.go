package query

import (
	"fmt"
	"regexp"
	"strings"

	"cel.dev/cel-go/cel"
	"cel.dev/cel-go/common"
	"cel.dev/cel-go/common/ast"

	"plumbline/node/near"
)

// Error says what is wrong with an expression, and where.
type Error struct {
	Text string
	// Line and Column count from 1, the column in characters.
	Line, Column int
	Reason       string
}

// Error gives the reason, the line, and a caret under the place.
func (e *Error) Error() string {
	line, column := window(strings.Split(e.Text, "\n"), e.Line, e.Column)
	return fmt.Sprintf("line %d, column %d: %s\n  %s\n  %s^", e.Line, e.Column, e.Reason, line, indent(line, column-1))
}

// window is the part of a line around a column that fits a terminal, and the
// column within it.
func window(lines []string, line, column int) (string, int) {
	const around = 50
	if line > len(lines) {
		return "", 1
	}
	runes := []rune(lines[line-1])
	from, to := max(0, column-1-around), min(len(runes), column-1+around)
	if from >= to {
		from = 0
	}
	return string(runes[from:to]), column - from
}

// indent is as wide as the first n characters of a line, tabs included.
func indent(line string, n int) string {
	var b strings.Builder
	for _, r := range line {
		if n--; n < 0 {
			break
		}
		if r != '\t' {
			r = ' '
		}
		b.WriteRune(r)
	}
	return b.String()
}

// at makes an error that points at a node.
func at(text string, checked *ast.AST, id int64, reason string) *Error {
	place := checked.SourceInfo().GetStartLocation(id)
	return &Error{Text: text, Line: place.Line(), Column: place.Column() + 1, Reason: reason}
}

var (
	undeclared = regexp.MustCompile(`^undeclared reference to '([^']*)'`)
	overload   = regexp.MustCompile(`^found no matching overload for '([^']*)' applied to '([^']*)'`)
	operator   = regexp.MustCompile(`^_?@?([^_]+)_?$`)
	celTypes   = strings.NewReplacer("string", "text", "int", "a whole number", "double", "a number", "bool", "yes or no", "dyn", "anything")
)

// explain puts the library's first complaint into plainer words.
func explain(text string, fields Fields, issue *common.Error) *Error {
	e := &Error{Text: text, Line: max(1, issue.Location.Line()), Column: max(1, issue.Location.Column()+1)}
	message := issue.Message
	switch {
	case undeclared.MatchString(message):
		name := undeclared.FindStringSubmatch(message)[1]
		e.Reason = fmt.Sprintf("nothing is called %q here%s", name, near.Hint(name, fields.Names()))
		if near.Names(name, fields.Names()) == nil {
			e.Reason += "; words stand in quotes: \"" + name + "\""
		}
	case overload.MatchString(message):
		m := overload.FindStringSubmatch(message)
		name := m[1]
		if op := operator.FindStringSubmatch(name); op != nil {
			name = op[1]
		}
		e.Reason = fmt.Sprintf("%s doesn't work with %s", name, celTypes.Replace(m[2]))
	case strings.Contains(message, "token recognition error at: '='") || strings.Contains(message, "token recognition error at: '= "):
		e.Reason = "one = alone; write == to compare"
	case strings.Contains(message, "'<EOF>'"):
		e.Reason = "the expression ends too early"
	case strings.Contains(message, "recursion limit"):
		e.Reason = "nested too deeply; make it simpler"
	default:
		message, _, _ = strings.Cut(strings.TrimPrefix(message, "Syntax error: "), " expecting ")
		e.Reason = message
	}
	return e
}

// say names a type in plain words.
func say(t *cel.Type) string { return celTypes.Replace(t.String()) }
