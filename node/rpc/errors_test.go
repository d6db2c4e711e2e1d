package rpc

import (
	"context"
	"errors"
	"fmt"
	"testing"

	"connectrpc.com/connect"

	"plumbline/node"
)

// Every reason keeps its sentence there and back, and comes back as itself and
// as nothing else.
func TestRefusalsThereAndBack(t *testing.T) {
	for _, r := range refusals {
		sentence := "the field class_year of Orrin Vale: " + r.name + "; try again"
		got := Err(toWire(&refusal{reason: r.reason, sentence: sentence}))
		if got.Error() != sentence {
			t.Errorf("%s: the sentence came back as %q", r.name, got)
		}
		for _, other := range refusals {
			if errors.Is(got, other.reason) != (other.reason == r.reason) {
				t.Errorf("%s came back as %s: %v", r.name, other.name, errors.Is(got, other.reason))
			}
		}
	}
}

func TestCodes(t *testing.T) {
	for _, r := range refusals {
		if code := connect.CodeOf(toWire(r.reason)); code != r.code {
			t.Errorf("%s has the code %s, want %s", r.name, code, r.code)
		}
	}
	for err, code := range map[error]connect.Code{
		context.Canceled:                           connect.CodeCanceled,
		context.DeadlineExceeded:                   connect.CodeDeadlineExceeded,
		errors.New("the disk made a noise"):        connect.CodeInternal,
		fmt.Errorf("x: %w", node.ErrNotFound):      connect.CodeNotFound,
		errors.Join(errors.New("x"), node.ErrFull): connect.CodeResourceExhausted,
	} {
		if got := connect.CodeOf(toWire(err)); got != code {
			t.Errorf("%v has the code %s, want %s", err, got, code)
		}
	}
	if toWire(nil) != nil || Err(nil) != nil {
		t.Error("no error became one")
	}
}

// Errors without a detail come from field rules, the transport and the guard.
func TestErrorsWithoutDetail(t *testing.T) {
	for code, reason := range map[connect.Code]error{
		connect.CodeInvalidArgument: node.ErrInvalid,
		connect.CodeUnavailable:     ErrUnreachable,
		connect.CodeUnauthenticated: ErrToken,
		connect.CodeCanceled:        context.Canceled,
	} {
		got := Err(connect.NewError(code, errors.New("a sentence")))
		if !errors.Is(got, reason) || got.Error() != "a sentence" {
			t.Errorf("%s came back as %v, %v", code, got, errors.Unwrap(got))
		}
	}
	plain := errors.New("never on the wire")
	if got := Err(plain); got != plain {
		t.Errorf("an error of this side became %v", got)
	}
	if got := Err(connect.NewError(connect.CodeInternal, errors.New("odd"))); got.Error() != "odd" {
		t.Errorf("an unknown failure lost its sentence: %q", got)
	}
}
