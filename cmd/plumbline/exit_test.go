package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"testing"

	"plumbline/node"
	"plumbline/node/rpc"
)

func TestExitCodes(t *testing.T) {
	for _, c := range []struct {
		err  error
		code int
	}{
		{nil, 0},
		{errors.New("the disk made a noise"), 1},
		{node.ErrRights, 1},
		{node.ErrUnasked, 1},
		{usagef("no such thing"), 2},
		{fmt.Errorf("list: %w", usagef("no such thing")), 2},
		{node.ErrNotFound, 3},
		{node.ErrAmbiguous, 3},
		{fmt.Errorf("set: %w", node.ErrUnseen), 4},
		{node.ErrDisputed, 4},
		{node.ErrInUse, 5},
		{rpc.ErrUnreachable, 5},
		{rpc.ErrToken, 5},
		{context.Canceled, 130},
	} {
		var stderr bytes.Buffer
		if got := report(c.err, &stderr); got != c.code {
			t.Errorf("%v ends with %d, want %d", c.err, got, c.code)
		}
		if (stderr.Len() > 0) != (c.err != nil) {
			t.Errorf("%v printed %q", c.err, stderr.String())
		}
	}
}
