package mesh

import (
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"runtime"
	"sync"
	"testing"
)

func TestMessagesBothWays(t *testing.T) {
	a, b, ab, ba := couple(t)
	if ab.Peer().Device != b.id || ba.Peer().Device != a.id {
		t.Fatal("the ends of the link name other devices")
	}
	if got := ba.Peer().Address; got != a.Address().String() {
		t.Errorf("the listener can dial back at %s, want %s", got, a.Address())
	}
	big := make([]byte, MaxMessage)
	rand.Read(big)
	var wg sync.WaitGroup
	for _, from := range []Link{ab, ba} {
		wg.Go(func() {
			for i := range 40 { // more than the window holds
				data := bytes.Clone(big)
				data[0] = byte(i)
				if err := from.Send(context.Background(), data); err != nil {
					t.Error(err)
				}
			}
		})
	}
	for _, at := range []*laptop{a, b} {
		for i := range 40 {
			m := next(t, at.received)
			if m.data[0] != byte(i) || !bytes.Equal(m.data[1:], big[1:]) {
				t.Fatalf("message %d arrived damaged or out of order", i)
			}
		}
	}
	wg.Wait()
	if err := ab.Send(context.Background(), make([]byte, MaxMessage+1)); !errors.Is(err, ErrTooLarge) {
		t.Errorf("one byte too many: %v", err)
	}
	if err := ab.Send(context.Background(), []byte("still linked")); err != nil {
		t.Error(err)
	}
	if got := next(t, b.received).data; string(got) != "still linked" {
		t.Errorf("got %q", got)
	}
}

func TestManySmallMessagesKeepTheirOrder(t *testing.T) {
	_, b, ab, _ := couple(t)
	const n = 5000
	go func() {
		for i := range n {
			if err := ab.Send(context.Background(), []byte{byte(i >> 8), byte(i)}); err != nil {
				t.Error(err)
			}
		}
	}()
	for i := range n {
		if got := next(t, b.received).data; int(got[0])<<8|int(got[1]) != i {
			t.Fatalf("message %d: got %v", i, got)
		}
	}
}

// A receiver that handles nothing blocks its sender and costs no message.
func TestASlowHandlerSlowsItsSender(t *testing.T) {
	w := newWorld(t)
	a, b := w.pair(t)
	b.received = make(chan message) // Received blocks until somebody takes it
	a.start(t)
	b.start(t)
	if err := a.Dial(context.Background(), b.Address().String()); err != nil {
		t.Fatal(err)
	}
	ab := next(t, a.linked)
	full, cancel := context.WithCancel(context.Background())
	sent := 0
	for ab.(*link).window.room.TryAcquire(windowBytes / windowMessages) {
		ab.(*link).window.room.Release(windowBytes / windowMessages)
		if err := ab.Send(full, []byte{byte(sent)}); err != nil {
			t.Fatal(err)
		}
		sent++
	}
	if sent != windowMessages {
		t.Errorf("%d messages were under way, want %d", sent, windowMessages)
	}
	cancel()
	if err := ab.Send(full, []byte("no room")); !errors.Is(err, context.Canceled) {
		t.Errorf("Send without room, its context ended: %v", err)
	}
	for i := range sent {
		if got := next(t, b.received).data[0]; got != byte(i) {
			t.Fatalf("message %d: got %d", i, got)
		}
	}
	if err := ab.Send(context.Background(), []byte("room again")); err != nil {
		t.Error(err)
	}
	if got := next(t, b.received).data; string(got) != "room again" {
		t.Errorf("got %q", got)
	}
}

func TestACutClosesTheLinkAtOnce(t *testing.T) {
	a, b, ab, ba := couple(t)
	a.world.mu.Lock()
	a.world.cut[b.id] = true
	a.world.mu.Unlock()
	a.Recheck()
	if err := ab.Send(context.Background(), []byte("x")); !errors.Is(err, ErrLinkClosed) || !errors.Is(err, errCut) {
		t.Errorf("Send after the cut: %v", err)
	}
	if err := next(t, a.unlinked); !errors.Is(err, errCut) {
		t.Errorf("unlinked because of: %v", err)
	}
	next(t, b.unlinked)
	if err := ba.Send(context.Background(), []byte("x")); !errors.Is(err, ErrLinkClosed) {
		t.Errorf("the cut device still sends: %v", err)
	}
	if err := b.Dial(context.Background(), a.Address().String()); !errors.Is(err, ErrRefused) {
		t.Errorf("the cut device dials: %v", err)
	}
	if err := a.Dial(context.Background(), b.Address().String()); !errors.Is(err, errCut) {
		t.Errorf("the cut device is dialled: %v", err)
	}
	if len(a.Links()) != 0 {
		t.Error("a link is left")
	}
}

func TestCloseEndsTheLink(t *testing.T) {
	a, b, ab, _ := couple(t)
	ab.Close("enough")
	if err := next(t, a.unlinked); !errors.Is(err, ErrLinkClosed) {
		t.Errorf("unlinked because of: %v", err)
	}
	next(t, b.unlinked)
	if err := a.Dial(context.Background(), b.Address().String()); err != nil {
		t.Fatal(err)
	}
	next(t, a.linked)
	next(t, b.linked)
	b.Mesh.Close()
	next(t, a.unlinked)
	if err := next(t, b.unlinked); !errors.Is(err, ErrClosed) {
		t.Errorf("unlinked because of: %v", err)
	}
}

// What one peer sends reaches that peer's link alone, also with many peers.
func TestPeersDontHearEachOther(t *testing.T) {
	w := newWorld(t)
	hub := w.laptop(t).start(t)
	byID := make(map[string]*laptop)
	for range 4 {
		l := w.laptop(t).start(t)
		if err := l.Dial(context.Background(), hub.Address().String()); err != nil {
			t.Fatal(err)
		}
		next(t, hub.linked)
		byID[l.id.String()] = l
	}
	for _, k := range hub.Links() {
		id := k.Peer().Device.String()
		if err := k.Send(context.Background(), []byte(id)); err != nil {
			t.Fatal(err)
		}
	}
	for id, l := range byID {
		if got := next(t, l.received).data; string(got) != id {
			t.Errorf("%s got the message to %s", id, got)
		}
		l.Mesh.Close() // nothing else may come
		if len(l.received) != 0 {
			t.Errorf("%s got more than its own message", id)
		}
	}
}

// A handler sees one link of a device at a time.
func TestANewLinkWaitsForTheOldOnesEnd(t *testing.T) {
	a, b := newWorld(t).pair(t)
	h := &ordered{gate: make(chan struct{}), told: make(chan string, 8)}
	a.config.Handler = h
	a.start(t)
	b.start(t)
	relink := func() *link {
		if err := b.Dial(context.Background(), a.Address().String()); err != nil {
			t.Fatal(err)
		}
		next(t, b.linked)
		k := a.live()[0]
		<-k.ready
		return k
	}
	first := relink()
	if next(t, h.told) != "linked" {
		t.Error("the first thing told isn't the link")
	}
	first.Close("next round")
	next(t, b.unlinked)
	relink()
	runtime.Gosched() // time to tell too early
	if len(h.told) != 0 {
		t.Error("the second link was told before the first one's end")
	}
	close(h.gate)
	for _, want := range []string{"unlinked", "linked"} {
		if got := next(t, h.told); got != want {
			t.Fatalf("told %q, want %q", got, want)
		}
	}
}

// ordered is a handler whose Unlinked takes until the gate opens.
type ordered struct {
	gate chan struct{}
	told chan string
}

func (o *ordered) Linked(Link)           { o.told <- "linked" }
func (o *ordered) Received(Link, []byte) {}
func (o *ordered) Unlinked(Link, error)  { <-o.gate; o.told <- "unlinked" }
