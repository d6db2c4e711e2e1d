package query

import (
	"slices"
	"strings"

	"cel.dev/cel-go/cel"
	"cel.dev/cel-go/common/ast"
	"cel.dev/cel-go/common/operators"
	"cel.dev/cel-go/common/overloads"
)

// CEL compares numbers of any type as it runs, but its checker lets whole numbers
// and decimals meet only at <, <=, > and >=. People type 6 and 6.0 for one thing, so at
// the other operators one side is given the type that lets the checker agree: by
// dyn(), the language's own way to leave a comparison to the run, and in sums by
// double(). Everything else that the checker refuses stays refused.

// check checks a parsed expression. What it returns first is the library's complaint,
// if there is any.
func check(env *cel.Env, parsed *cel.Ast) (*cel.Ast, *cel.Issues) {
	for {
		checked, issues := env.Check(parsed)
		if issues.Err() == nil {
			return checked, issues
		}
		adjusted := false
		for _, issue := range issues.Errors() {
			if m := overload.FindStringSubmatch(issue.Message); m != nil {
				adjusted = adjust(parsed.NativeRep(), issue.ExprID, m[1], m[2]) || adjusted
			}
		}
		if !adjusted { // each time there is one call less to adjust
			return nil, issues
		}
	}
}

// adjust makes a call of two kinds of numbers one that the checker takes, if it is one.
func adjust(parsed *ast.AST, id int64, function, types string) bool {
	side, conversion := mixed(function, types)
	if conversion == "" {
		return false
	}
	adjusted := false
	factory := ast.NewExprFactory()
	ast.PostOrderVisit(parsed.Expr(), ast.NewExprVisitor(func(e ast.Expr) {
		if e.ID() != id || e.Kind() != ast.CallKind || adjusted {
			return
		}
		args := slices.Clone(e.AsCall().Args())
		args[side] = factory.NewCall(ast.MaxID(parsed)+1, conversion, args[side])
		e.SetKindCase(factory.NewCall(id, function, args...))
		adjusted = true
	}))
	return adjusted
}

// mixed says which argument of a call is to be converted and by what; nothing if it
// doesn't fail only for two kinds of numbers. Types are as the checker writes them:
// (double, list(int)).
func mixed(function, types string) (side int, conversion string) {
	left, right, _ := strings.Cut(strings.TrimSuffix(strings.TrimPrefix(types, "("), ")"), ", ")
	one := strings.NewReplacer("double", "int").Replace
	switch function {
	case operators.Equals, operators.NotEquals:
		if one(left) == one(right) {
			return 0, overloads.TypeConvertDyn
		}
	case operators.In:
		if one(right) == "list("+one(left)+")" {
			return 0, overloads.TypeConvertDyn
		}
	case operators.Add, operators.Subtract, operators.Multiply, operators.Divide:
		if one(left) == "int" && one(right) == "int" {
			return strings.Count(left, "double"), overloads.TypeConvertDouble
		}
	}
	return 0, ""
}
