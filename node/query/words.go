package query

import (
	"fmt"
	"slices"

	"cel.dev/cel-go/common/ast"
	"cel.dev/cel-go/common/operators"

	"plumbline/node/near"
)

// checkWords refuses to compare a field that holds one of a few words with any
// other: position == "tackel" would silently match nothing.
func checkWords(text string, fields Fields, checked *ast.AST) error {
	var failure error
	ast.PreOrderVisit(checked.Expr(), ast.NewExprVisitor(func(e ast.Expr) {
		if failure != nil || e.Kind() != ast.CallKind {
			return
		}
		args := e.AsCall().Args()
		switch e.AsCall().FunctionName() {
		case operators.Equals, operators.NotEquals, operators.In:
			failure = checkPair(text, fields, checked, args[0], args[1])
			if failure == nil {
				failure = checkPair(text, fields, checked, args[1], args[0])
			}
		}
	}))
	return failure
}

// checkPair holds the words on one side to the field on the other.
func checkPair(text string, fields Fields, checked *ast.AST, field, words ast.Expr) error {
	if field.Kind() != ast.IdentKind {
		return nil
	}
	values := fields[field.AsIdent()].Values
	if values == nil {
		return nil
	}
	literals := []ast.Expr{words}
	if words.Kind() == ast.ListKind {
		literals = words.AsList().Elements()
	}
	for _, literal := range literals {
		if literal.Kind() != ast.LiteralKind {
			continue
		}
		word, ok := literal.AsLiteral().Value().(string)
		if ok && !slices.Contains(values, word) {
			return at(text, checked, literal.ID(), fmt.Sprintf("%s is never %q%s", field.AsIdent(), word, near.Hint(word, values)))
		}
	}
	return nil
}
