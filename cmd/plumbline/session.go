package main

import (
	"context"
	"errors"
	"time"

	"plumbline/node"
	"plumbline/node/rpc"
)

// session is a command's way to the records.
type session struct {
	client *rpc.Client
	close  func() error
}

// call runs a command's part that needs the records. Where there are none, nor ever
// were, it is refused and makes none.
func (a *app) call(ctx context.Context, do func(context.Context, *rpc.Client) error) error {
	if err := node.Vacant(a.data, a.state); err != nil {
		return err
	}
	return a.begin(ctx, do)
}

// begin is call for commands by which a laptop gets its staff.
func (a *app) begin(ctx context.Context, do func(context.Context, *rpc.Client) error) error {
	s, err := a.open(ctx)
	if err != nil {
		return err
	}
	return errors.Join(rpc.Err(do(ctx, s.client)), s.close())
}

// How long a command waits for another one that has the folder open for a
// moment, and how long for a node to say that it is there.
const (
	folderPatience = 5 * time.Second
	pingPatience   = 2 * time.Second
	retryAfter     = 50 * time.Millisecond
)

// open lets the folder's lock decide: who gets it opens the folder, who doesn't
// asks the node that has it. So a token is never sent to a port that a node has
// left and a stranger taken.
func (a *app) open(ctx context.Context) (*session, error) {
	deadline := time.Now().Add(folderPatience)
	for {
		n, err := node.Open(ctx, node.Config{Data: a.data, State: a.state, Version: version()})
		if err == nil {
			return inMemory(n), nil
		}
		if !errors.Is(err, node.ErrInUse) {
			return nil, err
		}
		if s := a.running(ctx); s != nil {
			return s, nil
		}
		if time.Now().After(deadline) {
			return nil, err
		}
		if err := pause(ctx, retryAfter); err != nil {
			return nil, err
		}
	}
}

func inMemory(n *node.Node) *session {
	memory := rpc.InMemory(n)
	return &session{client: memory.Client, close: func() error { return errors.Join(memory.Close(), n.Close()) }}
}

// running returns a session with the node that runs on the folder, or nil.
func (a *app) running(ctx context.Context) *session {
	address, err := rpc.ReadAddress(a.state)
	if err != nil || address.Token == "" || address.Data != a.data {
		return nil // whoever has the folder isn't a node, or not yet
	}
	client := rpc.Dial(address)
	ctx, cancel := context.WithTimeout(ctx, pingPatience)
	defer cancel()
	if client.Ping(ctx) != nil {
		client.Close()
		return nil
	}
	return &session{client: client, close: func() error { client.Close(); return nil }}
}

func pause(ctx context.Context, length time.Duration) error {
	select {
	case <-time.After(length):
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
