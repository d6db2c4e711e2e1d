package query

import (
	"errors"
	"fmt"
	"slices"

	"cel.dev/cel-go/cel"
	"cel.dev/cel-go/common/ast"
	"cel.dev/cel-go/common/types"
	"cel.dev/cel-go/common/types/ref"
	"cel.dev/cel-go/interpreter"
)

// The bounds. An expression is typed by a person; these leave room for the
// longest sensible one, and stop one that would hold up the node.
const (
	maxLength = 4000
	maxDepth  = 60
	// maxCost bounds the work for one record, in CEL's units: about one for each
	// look at a variable and each comparison.
	maxCost = 100_000
)

// ErrTooCostly is returned when an expression takes more work for one record than
// is allowed, such as lists of lists multiplied.
var ErrTooCostly = errors.New("the expression takes too much work; make it simpler")

// Program is a compiled expression. It may be used by several goroutines.
type Program struct {
	text    string
	uses    []string
	program cel.Program
	parts   []*Program // see Parts
}

// Compile checks an expression against the fields. Errors are of type *[Error].
func Compile(fields Fields, text string) (*Program, error) {
	if len(text) > maxLength {
		return nil, &Error{Text: text, Line: 1, Column: 1, Reason: fmt.Sprintf("longer than %d characters", maxLength)}
	}
	env, err := environment(fields)
	if err != nil {
		return nil, err
	}
	parsed, issues := env.Parse(text)
	if issues.Err() != nil {
		return nil, explain(text, fields, issues.Errors()[0])
	}
	compiled, issues := check(env, parsed)
	if issues.Err() != nil {
		return nil, explain(text, fields, issues.Errors()[0])
	}
	checked := compiled.NativeRep()
	if t := compiled.OutputType(); !t.IsExactType(cel.BoolType) {
		return nil, at(text, checked, checked.Expr().ID(), "this gives "+say(t)+", and yes or no is wanted; compare it with something")
	}
	if err := checkWords(text, fields, checked); err != nil {
		return nil, err
	}
	return plan(env, text, fields, checked)
}

// environment declares the fields, and known(x): whether x is there at all.
func environment(fields Fields) (*cel.Env, error) {
	options := []cel.EnvOption{
		cel.ParserRecursionLimit(maxDepth),
		cel.ParserExpressionSizeLimit(maxLength),
		cel.CrossTypeNumericComparisons(true),
		cel.Function("known", cel.Overload("known_dyn", []*cel.Type{cel.DynType}, cel.BoolType,
			cel.UnaryBinding(func(ref.Val) ref.Val { return types.True }))),
	}
	for _, name := range fields.Names() {
		options = append(options, cel.Variable(name, fields[name].Type))
	}
	return cel.NewEnv(options...)
}

// Match says whether a record's values satisfy the expression. A value that is
// absent or nil is missing.
func (p *Program) Match(vars map[string]any) (bool, error) {
	out, _, err := p.program.Eval(vars)
	var stopped interpreter.EvalCancelledError
	switch {
	case errors.As(err, &stopped):
		return false, ErrTooCostly
	case err != nil:
		return false, fmt.Errorf("%s: %w", p.text, err)
	}
	yes, ok := out.Value().(bool)
	if !ok {
		return false, fmt.Errorf("%s: gives %s, and yes or no is wanted", p.text, out.Type().TypeName())
	}
	return yes, nil
}

// Uses returns the fields that the expression looks at, in order of their names,
// so that its caller needs to load no others.
func (p *Program) Uses() []string { return p.uses }

func used(fields Fields, checked *ast.AST) []string {
	var names []string
	ast.PreOrderVisit(checked.Expr(), ast.NewExprVisitor(func(e ast.Expr) {
		if reference := checked.ReferenceMap()[e.ID()]; reference != nil {
			if _, ok := fields[reference.Name]; ok {
				names = append(names, reference.Name)
			}
		}
	}))
	slices.Sort(names)
	return slices.Compact(names)
}
