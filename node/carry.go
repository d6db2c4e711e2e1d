package node

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"plumbline/sync/mesh"
)

// A recovery hands over the ledger over the connection of the pairing itself:
// the two laptops may have no other way to each other, and what is cut next must
// be held first. The exchange goes on as over any link.

// carried is a link over the connection of a pairing.
type carried struct {
	*mesh.Carrier
	peer mesh.Peer
}

func (c *carried) Peer() mesh.Peer { return c.peer }

func (c *carried) Send(_ context.Context, message []byte) error { return c.Carrier.Send(message) }

func (c *carried) Close(string) { c.Carrier.Close() }

// converse exchanges with the other end until it has finished. meanwhile, if set,
// runs beside; once it returns, this end has finished.
func (n *Node) converse(ctx context.Context, c *mesh.Carrier, meanwhile func(ctx context.Context, l *peerLink) error) error {
	link := &carried{Carrier: c, peer: mesh.Peer{Device: c.Peer, Address: "pairing"}}
	h := handler{n}
	h.Linked(link)
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	defer context.AfterFunc(ctx, c.Close)()
	heard := make(chan error, 1)
	go func() {
		err := n.hear(h, link)
		if meanwhile != nil {
			cancel(errGone)
		}
		heard <- err
	}()
	if meanwhile == nil {
		err := <-heard
		h.Unlinked(link, err)
		if errors.Is(err, io.EOF) {
			return nil
		}
		return err
	}
	l := n.linkOf(link)
	err := meanwhile(ctx, l)
	if err == nil {
		l.finish(ctx)
		c.Finish()
	} else {
		c.Close()
	}
	select {
	case end := <-heard:
		h.Unlinked(link, end)
	case <-time.After(goodbyeTime):
		c.Close()
		h.Unlinked(link, <-heard)
	}
	return err
}

// errGone is why a handover ended early.
var errGone = errors.New("the other laptop ended it before everything had come over")

// goodbyeTime is how long the other end may take to hear that this one has
// finished.
const goodbyeTime = 3 * time.Second

func (n *Node) hear(h handler, link *carried) error {
	for {
		message, err := link.Receive()
		if err != nil {
			return err
		}
		h.Received(link, message)
	}
}

// finish waits until everything that waits has gone out.
func (l *peerLink) finish(ctx context.Context) {
	select {
	case <-l.leave():
	case <-ctx.Done():
	case <-time.After(farewellTime):
	}
}

// alike waits until both ends of a link hold the same.
func (n *Node) alike(ctx context.Context, l *peerLink) error {
	for {
		n.mu.Lock()
		s := n.core.Session(l.id)
		same := s != nil && s.Synced()
		n.mu.Unlock()
		if same {
			return nil
		}
		select {
		case <-time.After(10 * time.Millisecond):
		case <-ctx.Done():
			return fmt.Errorf("wait until everything has come over: %w", context.Cause(ctx))
		}
	}
}
