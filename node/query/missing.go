package query

import (
	"errors"
	"strings"

	"cel.dev/cel-go/common/ast"
	"cel.dev/cel-go/common/types"
	"cel.dev/cel-go/common/types/ref"
	"cel.dev/cel-go/interpreter"
)

// In plain CEL a missing variable or key, or a null, makes a comparison an error.
// Here the smallest yes-or-no expression around it is false:
//
//   - arm >= 332, arm == 332, arm != 332 and known(arm) are false while the arm
//     is unknown; so are name.contains("x") without a name and
//     seen.exists(s, s == "lunging") without a list
//   - !(arm >= 332) is therefore true then: not known to be that long. Who wants
//     the measured ones only adds known(arm)
//   - sums pass the gap on: overall + 1 > 6 is false while overall is missing
//
// != is false too, as a comparison with nothing says nothing; !(a == b) is the
// way to say "not known to be equal".

// errMissing marks a missing value on its way up to the expression around it.
var errMissing = errors.New("missing")

// missingIsFalse decorates the nodes of a program: attributes turn the ways to be
// missing into errMissing, and nodes of type bool turn errMissing into false.
func missingIsFalse(checked *ast.AST) interpreter.InterpretableDecoratorV2 {
	return func(i interpreter.InterpretableV2) (interpreter.InterpretableV2, error) {
		switch node := i.(type) {
		case interpreter.InterpretableConst:
			return i, nil
		case interpreter.InterpretableAttribute:
			return &lookup{node, isBool(checked, attributeID(node))}, nil
		}
		if isBool(checked, i.ID()) {
			return &truth{i}, nil
		}
		return i, nil
	}
}

func isBool(checked *ast.AST, id int64) bool {
	return checked.GetType(id).Kind() == types.BoolKind
}

// attributeID is the id of the whole of a.b.c, which is that of its last part;
// the node's own is that of a.
func attributeID(node interpreter.InterpretableAttribute) int64 {
	if named, ok := node.Attr().(interpreter.NamespacedAttribute); ok {
		if parts := named.Qualifiers(); len(parts) > 0 {
			return parts[len(parts)-1].ID()
		}
	}
	return node.ID()
}

// lookup is a variable, with the fields and keys behind it.
type lookup struct {
	interpreter.InterpretableAttribute
	bool bool
}

// Exec implements [interpreter.InterpretableV2].
func (l *lookup) Exec(frame *interpreter.ExecutionFrame) ref.Val {
	v := l.InterpretableAttribute.Exec(frame)
	if !isMissing(v) {
		return v
	}
	if l.bool {
		return types.False
	}
	return types.WrapErr(errMissing)
}

// Eval implements [interpreter.Interpretable].
func (l *lookup) Eval(vars interpreter.Activation) ref.Val {
	return interpreter.EvalActivation(vars, l.Exec)
}

// truth is any other node that gives yes or no.
type truth struct{ interpreter.InterpretableV2 }

// Exec implements [interpreter.InterpretableV2].
func (t *truth) Exec(frame *interpreter.ExecutionFrame) ref.Val {
	v := t.InterpretableV2.Exec(frame)
	if isMissing(v) {
		return types.False
	}
	return v
}

// Eval implements [interpreter.Interpretable].
func (t *truth) Eval(vars interpreter.Activation) ref.Val {
	return interpreter.EvalActivation(vars, t.Exec)
}

// isMissing recognises null, and the errors of a lookup that found nothing. The
// library's type for these is its own, so only the text tells them apart; a test
// holds it to each of them.
func isMissing(v ref.Val) bool {
	if v.Type() == types.NullType {
		return true
	}
	failure, ok := v.(*types.Err)
	if !ok {
		return false
	}
	if errors.Is(failure, errMissing) {
		return true
	}
	text := failure.String()
	return strings.HasPrefix(text, "no such key") || strings.HasPrefix(text, "no such attribute") ||
		strings.HasPrefix(text, "index out of bounds")
}
