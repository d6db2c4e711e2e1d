package rpc

import (
	"context"
	"errors"
	"io"
	"net"
	"path"
	"slices"

	"connectrpc.com/connect"
)

// reads are the calls that change nothing, whatever becomes of them.
var reads = []string{
	"Get", "List", "History", "Conflicts", "Merge", "Doubles", "Export", "SetAside", "Schema", "Check", "Outline",
	"Status", "Roster", "Alone",
}

// saidEnded words the end of a node that was called and hadn't answered yet, for which
// the transport only has that a connection ended. The caller is told what that means
// for what it asked for.
func saidEnded(next connect.UnaryFunc) connect.UnaryFunc {
	return func(ctx context.Context, request connect.AnyRequest) (connect.AnyResponse, error) {
		answer, err := next(ctx, request)
		method := path.Base(request.Spec().Procedure)
		switch {
		case isGone(err):
			return nil, &refusal{ErrUnreachable, "the node ended before it was asked, so nothing was changed: do it again"}
		case !hasEnded(err):
			return answer, err
		case slices.Contains(reads, method):
			return nil, &refusal{ErrUnreachable, ended + ": nothing was changed by this; do it again"}
		case method == "Import":
			return nil, &refusal{ErrUnreachable, ended + ": the table is stored whole or not at all. Import it again: that doubles nothing"}
		}
		return nil, &refusal{ErrUnreachable, ended + ": what this was to save is stored whole or not at all. Look whether it is there before you do it again"}
	}
}

// ended is all that can be said where it isn't known what was asked for.
const ended = "the node ended before it answered"

// hasEnded reports whether a connection was there and ended. What the node says itself
// never counts as that, nor that none could be made.
func hasEnded(err error) bool {
	if err == nil || connect.IsWireError(err) || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return false
	}
	var broken *net.OpError
	return !isGone(err) && (errors.As(err, &broken) || errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF))
}

// isGone reports whether nobody listens where the node was.
func isGone(err error) bool {
	var broken *net.OpError
	return errors.As(err, &broken) && broken.Op == "dial" && !errors.Is(err, context.Canceled) && !errors.Is(err, context.DeadlineExceeded)
}
