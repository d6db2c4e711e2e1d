package mesh

import (
	"context"
	"errors"
	"testing"
	"time"
)

// Remembered addresses do without a beacon; whichever end remembers dials.
func TestRememberedAddressesAreDialled(t *testing.T) {
	low, high := newWorld(t).pair(t)
	low.start(t)
	address := low.Address().String()
	high.config.Remembered = func() []string { return []string{address} }
	high.start(t)
	next(t, low.linked)
	k := next(t, high.linked)
	k.Close("to see it come back")
	again := next(t, low.linked)
	next(t, high.linked)
	if again.(*link).dialler != low.id {
		t.Error("the lower device has learned the other one's address, but leaves dialling to it")
	}
}

// Both dial at once, again and again: one link is left, the same on both ends.
func TestBothDialAtOnce(t *testing.T) {
	a, b := newWorld(t).pair(t)
	a.start(t)
	b.start(t)
	for range 20 {
		done := make(chan error, 2)
		go func() { done <- a.Dial(context.Background(), b.Address().String()) }()
		go func() { done <- b.Dial(context.Background(), a.Address().String()) }()
		for range 2 {
			if err := next(t, done); err != nil && !errors.Is(err, ErrLinked) {
				t.Errorf("a dial that met the other's: %v", err)
			}
		}
		giveUp := time.Now().Add(time.Minute)
		// Settled once a message crosses the one link that is left.
		for ok := false; !ok; {
			if time.Now().After(giveUp) {
				t.Fatal("no link is left")
			}
			links := a.Links()
			if len(links) > 1 {
				t.Fatal("two links to one device")
			}
			if len(links) == 0 {
				continue
			}
			if links[0].Send(context.Background(), []byte("x")) != nil {
				continue
			}
			select {
			case <-b.received:
				ok = true
			case <-links[0].(*link).ctx.Done():
			}
		}
		for _, l := range a.live() {
			l.Close("next round")
		}
		for len(a.live())+len(b.live()) > 0 {
			for _, l := range b.live() {
				<-l.done
			}
		}
		for len(b.received) > 0 {
			<-b.received
		}
	}
}

// A device has several addresses; a dial to the second finds out before it
// shows anything.
func TestOneDialToADeviceAtATime(t *testing.T) {
	m := newWorld(t).laptop(t).start(t).Mesh
	first, second := &talk{Mesh: m, device: highID}, &talk{Mesh: m, device: highID}
	if err := m.reserve(first); err != nil {
		t.Fatal(err)
	}
	if err := m.reserve(second); !errors.Is(err, ErrLinked) {
		t.Errorf("a second dial at once: %v", err)
	}
	if err := m.reserve(&talk{Mesh: m, device: lowID}); err != nil {
		t.Errorf("a dial to somebody else: %v", err)
	}
	m.release(first)
	if err := m.reserve(second); err != nil {
		t.Errorf("a dial after the first: %v", err)
	}
}

func TestALinkedDeviceIsntDialledAgain(t *testing.T) {
	a, b, _, _ := couple(t)
	for range 3 {
		if err := a.Dial(context.Background(), b.Address().String()); !errors.Is(err, ErrLinked) {
			t.Errorf("got %v", err)
		}
		if err := b.Dial(context.Background(), a.Address().String()); !errors.Is(err, ErrLinked) {
			t.Errorf("the other way: %v", err)
		}
	}
	if len(a.unlinked)+len(b.unlinked) > 0 || len(a.Links()) != 1 || len(b.Links()) != 1 {
		t.Error("the first link has suffered")
	}
}

func TestThePortIsAnotherOnlyIfTaken(t *testing.T) {
	w := newWorld(t)
	first := w.laptop(t).start(t)
	second := w.laptop(t)
	second.config.Port = int(first.Address().Port())
	second.start(t)
	if second.Address().Port() == first.Address().Port() {
		t.Error("two laptops on one port")
	}
	first.Mesh.Close()
	third := w.laptop(t)
	third.config.Port = int(first.Address().Port())
	if third.start(t); third.Address().Port() != first.Address().Port() {
		t.Error("a free port wasn't taken")
	}
}
