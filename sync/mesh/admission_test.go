package mesh

import (
	"context"
	"errors"
	"testing"
)

func TestAnIntroductionMakesANewDeviceKnown(t *testing.T) {
	for _, tt := range []struct {
		name                string
		lowUnknown, highNew bool
	}{
		{"the dialler is new", true, false},
		{"the listener is new", false, true},
		{"both are new", true, true},
	} {
		t.Run(tt.name, func(t *testing.T) {
			a, b := newWorld(t).pair(t)
			if tt.lowUnknown {
				b.unknown[a.id], b.learns[a.id] = true, true
			}
			if tt.highNew {
				a.unknown[b.id], a.learns[b.id] = true, true
			}
			a.start(t)
			b.start(t)
			if err := a.Dial(context.Background(), b.Address().String()); err != nil {
				t.Fatal(err)
			}
			next(t, a.linked)
			next(t, b.linked)
		})
	}
}

func TestADeviceWithoutAGrantIsRefused(t *testing.T) {
	a, b := newWorld(t).pair(t)
	b.unknown[a.id] = true // and no introduction helps
	a.start(t)
	b.start(t)
	if err := a.Dial(context.Background(), b.Address().String()); !errors.Is(err, ErrRefused) {
		t.Errorf("it dials: %v", err)
	}
	if err := b.Dial(context.Background(), a.Address().String()); !errors.Is(err, ErrUnknownDevice) {
		t.Errorf("it is dialled: %v", err)
	}
	if len(b.Links())+len(a.Links()) > 0 {
		t.Error("there is a link")
	}
}

func TestACopiedCertificateIsNoUse(t *testing.T) {
	a, b := newWorld(t).pair(t)
	c := a.world.laptop(t).start(t)
	a.cert = c.cert // a holds the link key, but not the key of this certificate
	a.start(t)
	b.start(t)
	if err := a.Dial(context.Background(), b.Address().String()); err == nil {
		t.Error("a stranger's key with a member's certificate was let in")
	}
	if err := b.Dial(context.Background(), a.Address().String()); !errors.Is(err, ErrProof) {
		t.Errorf("dialled: %v", err)
	}
}

func TestAnotherStaffIsRefused(t *testing.T) {
	a, b := newWorld(t).pair(t)
	a.config.Staff[0]++ // same link key, so that only the staff differs
	a.start(t)
	b.start(t)
	if err := a.Dial(context.Background(), b.Address().String()); !errors.Is(err, ErrNoAnswer) {
		t.Errorf("got %v", err)
	}
}

func TestOwnAddress(t *testing.T) {
	a := newWorld(t).laptop(t).start(t)
	if err := a.Dial(context.Background(), a.Address().String()); !errors.Is(err, ErrSelf) {
		t.Errorf("got %v", err)
	}
}

// After a change of link key, an old key is listened for as long as it is
// usable, and a straggler is dialled with the key that it knows.
func TestLinkKeysChange(t *testing.T) {
	a, b := newWorld(t).pair(t)
	old, fresh := a.world.key, [32]byte{1}
	a.config.LinkKeys = func() [][32]byte { return [][32]byte{fresh, old} }
	a.start(t)
	b.start(t)
	if err := b.Dial(context.Background(), a.Address().String()); err != nil {
		t.Fatalf("the old key isn't listened for: %v", err)
	}
	link := next(t, a.linked)
	if link.Peer().LinkKey != old {
		t.Error("the link doesn't tell which key was proven")
	}
	link.Close("next part")
	next(t, a.unlinked)
	next(t, b.unlinked)
	a.Mesh.Close()
	a.config.LinkKeys = func() [][32]byte { return [][32]byte{fresh} }
	a.config.FormerKeys = func() [][32]byte { return [][32]byte{old} }
	a.start(t)
	if err := b.Dial(context.Background(), a.Address().String()); !errors.Is(err, ErrNoAnswer) {
		t.Fatalf("a former key is still listened for: %v", err)
	}
	if err := a.Dial(context.Background(), b.Address().String()); err != nil {
		t.Fatalf("the straggler isn't reached: %v", err)
	}
}

// A cut that arrives between the judgement and the link must still count.
func TestACutDuringTheHandshakeCounts(t *testing.T) {
	a, b := newWorld(t).pair(t)
	b.start(t)
	asked := 0
	admit := a.config.Admit
	a.config.Admit = func(cert []byte) (Peer, error) {
		peer, err := admit(cert)
		if asked++; asked == 2 { // the answer of the last look is already given
			a.world.mu.Lock()
			a.world.cut[b.id] = true
			a.world.mu.Unlock()
			a.Recheck()
		}
		return peer, err
	}
	a.start(t)
	if err := a.Dial(context.Background(), b.Address().String()); !errors.Is(err, errCut) {
		t.Errorf("got %v", err)
	}
	if len(a.Links()) != 0 {
		t.Error("there is a link")
	}
}
