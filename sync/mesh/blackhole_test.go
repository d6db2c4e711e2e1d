package mesh

import (
	"context"
	"net"
	"sync/atomic"
	"testing"
)

// A network that swallows everything without a word: both ends notice by
// their pings, and what was sent into it isn't reported as handled.
func TestBothEndsNoticeABlackHole(t *testing.T) {
	t.Parallel()
	a, b := newWorld(t).pair(t)
	a.start(t)
	b.start(t)
	relay, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer relay.Close()
	var hole atomic.Bool
	go func() {
		near, err := relay.Accept()
		if err != nil {
			return
		}
		far, err := net.Dial("tcp", b.Address().String())
		if err != nil {
			return
		}
		go swallow(&hole, far, near)
		go swallow(&hole, near, far)
	}()
	if err := a.Dial(context.Background(), relay.Addr().String()); err != nil {
		t.Fatal(err)
	}
	ab := next(t, a.linked)
	next(t, b.linked)
	if err := ab.Send(context.Background(), []byte("through")); err != nil {
		t.Fatal(err)
	}
	next(t, b.received)
	hole.Store(true)
	next(t, a.unlinked)
	next(t, b.unlinked)
}

func swallow(hole *atomic.Bool, to, from net.Conn) {
	buf := make([]byte, 4096)
	for {
		n, err := from.Read(buf)
		if err != nil {
			if !hole.Load() {
				to.Close()
			}
			return
		}
		if hole.Load() {
			continue
		}
		if _, err := to.Write(buf[:n]); err != nil {
			return
		}
	}
}
