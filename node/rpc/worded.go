package rpc

import (
	"context"
	"errors"

	"connectrpc.com/connect"

	"plumbline/node/plain"
)

// byBrowser marks the context of a call that the page made.
type byBrowser struct{}

// worded answers the page in plain words, since a person reads what it is told.
// Programs get what the system said: the command line words it itself, and keeps
// the cause for --verbose.
type worded struct{}

func (worded) WrapUnary(next connect.UnaryFunc) connect.UnaryFunc {
	return func(ctx context.Context, request connect.AnyRequest) (connect.AnyResponse, error) {
		response, err := next(ctx, request)
		return response, inWords(ctx, err)
	}
}

func (worded) WrapStreamingHandler(next connect.StreamingHandlerFunc) connect.StreamingHandlerFunc {
	return func(ctx context.Context, stream connect.StreamingHandlerConn) error {
		return inWords(ctx, next(ctx, stream))
	}
}

func (worded) WrapStreamingClient(next connect.StreamingClientFunc) connect.StreamingClientFunc {
	return next
}

func inWords(ctx context.Context, err error) error {
	var wire *connect.Error
	if ctx.Value(byBrowser{}) == nil || !errors.As(err, &wire) {
		return err
	}
	put := connect.NewError(wire.Code(), plain.Words(wire.Unwrap()))
	for _, detail := range wire.Details() {
		put.AddDetail(detail)
	}
	return put
}
