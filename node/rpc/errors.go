package rpc

import (
	"context"
	"errors"

	"connectrpc.com/connect"

	"plumbline/node"
	v1 "plumbline/proto/plumbline/v1"
)

// ErrUnreachable is returned to a client when the node doesn't answer.
var ErrUnreachable = errors.New("the node doesn't answer")

// ErrToken is returned to a client whose token isn't the running node's.
var ErrToken = errors.New("the node doesn't accept the token")

// refusals pairs each reason with its code, which generic clients understand,
// and with its name in the detail, which tells reasons of one code apart.
var refusals = []struct {
	reason error
	code   connect.Code
	name   string
}{
	{node.ErrNotFound, connect.CodeNotFound, "not_found"},
	{node.ErrAmbiguous, connect.CodeInvalidArgument, "ambiguous"},
	{node.ErrInvalid, connect.CodeInvalidArgument, "invalid"},
	{node.ErrUnseen, connect.CodeFailedPrecondition, "unseen"},
	{node.ErrDisputed, connect.CodeFailedPrecondition, "disputed"},
	{node.ErrUnasked, connect.CodeFailedPrecondition, "unasked"},
	{node.ErrRights, connect.CodePermissionDenied, "rights"},
	{node.ErrNoStaff, connect.CodeFailedPrecondition, "no_staff"},
	{node.ErrHasStaff, connect.CodeAlreadyExists, "has_staff"},
	{node.ErrNoKey, connect.CodeFailedPrecondition, "no_key"},
	{node.ErrLost, connect.CodeFailedPrecondition, "lost"},
	{node.ErrInUse, connect.CodeUnavailable, "in_use"},
	{node.ErrExists, connect.CodeAlreadyExists, "exists"},
	{node.ErrFull, connect.CodeResourceExhausted, "full"},
	{node.ErrPairing, connect.CodeAborted, "pairing"},
	{node.ErrNewer, connect.CodeFailedPrecondition, "newer"},
}

// codes gives the reason of an error that carries no detail of ours: it comes
// from the checks of fields, from the transport, or from the guard.
var codes = map[connect.Code]error{
	connect.CodeInvalidArgument:  node.ErrInvalid,
	connect.CodeUnavailable:      ErrUnreachable,
	connect.CodeUnauthenticated:  ErrToken,
	connect.CodeCanceled:         context.Canceled,
	connect.CodeDeadlineExceeded: context.DeadlineExceeded,
}

// toWire gives an error its code and keeps its sentence.
func toWire(err error) error {
	if err == nil {
		return nil
	}
	for _, r := range refusals {
		if errors.Is(err, r.reason) {
			return withReason(connect.NewError(r.code, err), r.name)
		}
	}
	switch {
	case errors.Is(err, context.Canceled):
		return connect.NewError(connect.CodeCanceled, err)
	case errors.Is(err, context.DeadlineExceeded):
		return connect.NewError(connect.CodeDeadlineExceeded, err)
	}
	return connect.NewError(connect.CodeInternal, err)
}

func withReason(wire *connect.Error, name string) error {
	detail, err := connect.NewErrorDetail(&v1.Refusal{Reason: name})
	if err != nil {
		return wire // the code still tells most of it
	}
	wire.AddDetail(detail)
	return wire
}

// Err gives back what the node said: an error whose text is the node's sentence
// and which wraps the node's reason. Errors that didn't come over the wire stay
// as they are.
func Err(err error) error {
	var wire *connect.Error
	if !errors.As(err, &wire) {
		return err
	}
	for _, r := range refusals {
		if r.name == reasonName(wire) {
			return &refusal{reason: r.reason, sentence: wire.Message()}
		}
	}
	if hasEnded(err) {
		return &refusal{reason: ErrUnreachable, sentence: ended}
	}
	if reason, ok := codes[wire.Code()]; ok {
		return &refusal{reason: reason, sentence: wire.Message()}
	}
	return errors.New(wire.Message())
}

func reasonName(wire *connect.Error) string {
	for _, detail := range wire.Details() {
		value, err := detail.Value()
		if err != nil {
			continue // of a type newer than this program
		}
		if r, ok := value.(*v1.Refusal); ok {
			return r.GetReason()
		}
	}
	return ""
}

type refusal struct {
	reason   error
	sentence string
}

func (r *refusal) Error() string { return r.sentence }
func (r *refusal) Unwrap() error { return r.reason }
