package rpc

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"strings"
	"syscall"
	"testing"

	"connectrpc.com/connect"

	"plumbline/node"
	v1 "plumbline/proto/plumbline/v1"
)

// Nothing but the end of a connection that was there counts as the end of the node:
// neither what the node says, nor that somebody thought better of it.
func TestWhatCountsAsTheEndOfANode(t *testing.T) {
	reset := &net.OpError{Op: "read", Net: "tcp", Err: syscall.ECONNRESET}
	for err, want := range map[error]bool{
		nil: false,
		connect.NewError(connect.CodeUnavailable, io.ErrUnexpectedEOF):                                             true,
		connect.NewError(connect.CodeUnavailable, fmt.Errorf("post: %w", io.EOF)):                                  true,
		connect.NewError(connect.CodeUnavailable, reset):                                                           true,
		connect.NewError(connect.CodeUnavailable, &net.OpError{Op: "dial", Net: "tcp", Err: syscall.ECONNREFUSED}): false,
		connect.NewWireError(connect.CodeInternal, errors.New("unexpected EOF")):                                   false,
		connect.NewError(connect.CodeCanceled, errors.Join(context.Canceled, reset)):                               false,
		toWire(node.ErrInvalid): false,
	} {
		if got := hasEnded(err); got != want {
			t.Errorf("%v counts as the end of a node: %v, want %v", err, got, want)
		}
	}
}

// The calls that change nothing are calls of the API; and where nobody listens any more,
// no call has changed anything.
func TestWhatChangesNothingWhenTheNodeEnds(t *testing.T) {
	services := v1.File_plumbline_v1_ledger_proto.Services()
	known := map[string]bool{"Status": true, "Roster": true, "Alone": true} // of the two other services
	for i := range services.Len() {
		for j := range services.Get(i).Methods().Len() {
			known[string(services.Get(i).Methods().Get(j).Name())] = true
		}
	}
	for _, name := range reads {
		if !known[name] {
			t.Errorf("%s is no call", name)
		}
	}
	closed, err := net.Listen("tcp4", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := closed.Addr().String()
	if err := closed.Close(); err != nil {
		t.Fatal(err)
	}
	client := Dial(Address{Address: address, Token: "none"})
	defer client.Close()
	_, err = client.Staff.Promote(t.Context(), &v1.PromoteRequest{Who: "Tobin Ash"})
	if err := Err(err); !errors.Is(err, ErrUnreachable) || !strings.Contains(err.Error(), "nothing was changed") {
		t.Errorf("where nobody listens any more: %v", err)
	}
}
