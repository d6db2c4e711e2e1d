package query

import (
	"cel.dev/cel-go/cel"
	"cel.dev/cel-go/common/ast"
	"cel.dev/cel-go/common/operators"
)

// Parts returns the expressions that stand on the sides of the outermost &&, the
// whole one if there is none: it holds where all of them do, doesn't where one
// doesn't, and else fails as they do. Each looks at fewer fields than the whole,
// so that its answers can be kept by their values. The bound on the work is one
// for each.
func (p *Program) Parts() []*Program { return p.parts }

// plan makes a program of a checked expression, and one of each of its parts.
func plan(env *cel.Env, text string, fields Fields, checked *ast.AST) (*Program, error) {
	whole, err := planOne(env, text, fields, checked)
	if err != nil {
		return nil, err
	}
	sides := sidesOf(checked.Expr())
	if len(sides) == 1 {
		whole.parts = []*Program{whole}
		return whole, nil
	}
	for _, side := range sides {
		part, err := planOne(env, text, fields, ast.NewCheckedAST(ast.NewAST(side, checked.SourceInfo()), checked.TypeMap(), checked.ReferenceMap()))
		if err != nil {
			return nil, err
		}
		whole.parts = append(whole.parts, part)
	}
	return whole, nil
}

func planOne(env *cel.Env, text string, fields Fields, checked *ast.AST) (*Program, error) {
	program, err := env.PlanProgram(checked, cel.CostLimit(maxCost), cel.CustomDecoratorV2(missingIsFalse(checked)))
	if err != nil {
		return nil, &Error{Text: text, Line: 1, Column: 1, Reason: err.Error()}
	}
	return &Program{text: text, uses: used(fields, checked), program: program}, nil
}

// sidesOf takes a chain of && apart.
func sidesOf(e ast.Expr) []ast.Expr {
	if e.Kind() != ast.CallKind || e.AsCall().FunctionName() != operators.LogicalAnd {
		return []ast.Expr{e}
	}
	var sides []ast.Expr
	for _, side := range e.AsCall().Args() {
		sides = append(sides, sidesOf(side)...)
	}
	return sides
}
