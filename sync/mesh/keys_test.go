package mesh

import (
	"context"
	"crypto/ecdh"
	"crypto/ed25519"
	"crypto/rand"
	"crypto/sha512"
	"crypto/tls"
	"errors"
	"io"
	"net"
	"net/netip"
	"testing"
	"time"

	"plumbline/sync/entry"
)

// members makes laptops members to one another, each by its public key.
func (l *laptop) members(of ...*laptop) {
	l.config.Members = func() map[entry.DeviceID]ed25519.PublicKey {
		all := make(map[entry.DeviceID]ed25519.PublicKey)
		for _, m := range of {
			all[m.id] = m.device.Public().(ed25519.PublicKey)
		}
		return all
	}
}

func (l *laptop) keys(usable ...[32]byte) {
	l.config.LinkKeys = func() [][32]byte { return usable }
}

func (l *laptop) former(keys ...[32]byte) {
	l.config.FormerKeys = func() [][32]byte { return keys }
}

// The birational map of RFC 7748, 4.1, has to give the public key that X25519
// itself derives from the same secret (RFC 8032, 5.1.5): the standard library's
// is the other side.
func TestAnEd25519KeyIsTheX25519KeyOfOneSecret(t *testing.T) {
	for range 50 {
		public, private, err := ed25519.GenerateKey(rand.Reader)
		if err != nil {
			t.Fatal(err)
		}
		hash := sha512.Sum512(private.Seed())
		secret, err := ecdh.X25519().NewPrivateKey(hash[:32])
		if err != nil {
			t.Fatal(err)
		}
		got, err := montgomery(public)
		if err != nil || string(got) != string(secret.PublicKey().Bytes()) {
			t.Fatalf("key %x becomes %x (%v), want %x", public, got, err, secret.PublicKey().Bytes())
		}
	}
	for name, bad := range map[string]ed25519.PublicKey{"short": make([]byte, 31), "the point at infinity": append([]byte{1}, make([]byte, 31)...)} {
		if _, err := montgomery(bad); err == nil {
			t.Errorf("%s: taken", name)
		}
	}
}

func TestAPairKeyIsOfTheseTwoInThisStaff(t *testing.T) {
	w := newWorld(t)
	a, b, c := w.laptop(t), w.laptop(t), w.laptop(t)
	key := func(x, y *laptop, staff entry.StaffID) [32]byte {
		k, err := PairKey(x.device, y.device.Public().(ed25519.PublicKey), staff)
		if err != nil {
			t.Fatal(err)
		}
		return k
	}
	ab := key(a, b, w.staff)
	if ab != key(b, a, w.staff) {
		t.Error("the two have different keys")
	}
	if ab == key(a, c, w.staff) || ab == key(a, b, entry.StaffID{1}) {
		t.Error("others have the same key")
	}
}

// Two laptops that changed the link key at once share none: they still link.
func TestTwoWhoChangedTheKeyAtOnceStillLink(t *testing.T) {
	w := newWorld(t)
	a, b := w.pair(t)
	a.keys([32]byte{1})
	b.keys([32]byte{2})
	for _, l := range []*laptop{a, b} {
		l.former(w.key)
		l.members(a, b)
		l.start(t)
	}
	if err := a.Dial(context.Background(), b.Address().String()); err != nil {
		t.Fatal(err)
	}
	next(t, a.linked)
	next(t, b.linked)
}

// The same without anybody typing an address: whom it led to is remembered.
func TestTwoWhoChangedTheKeyAtOnceLinkByMemory(t *testing.T) {
	w := newWorld(t)
	a, b := w.pair(t)
	a.keys([32]byte{1})
	b.keys([32]byte{2})
	a.members(a, b)
	b.members(a, b)
	b.start(t)
	address := b.Address().String()
	a.config.Remembered = func() []string { return []string{address} }
	a.config.Straggler = func(string) (entry.DeviceID, [32]byte) { return b.id, [32]byte{} }
	a.start(t)
	next(t, a.linked)
}

// A laptop that knows nobody's new key and isn't known is reached by the key
// that it last proved.
func TestAStragglerIsDialledWithTheKeyThatItLastProved(t *testing.T) {
	w := newWorld(t)
	a, b := w.pair(t)
	old := [32]byte{7}
	a.keys([32]byte{1})
	a.former([32]byte{5}, [32]byte{4}, [32]byte{3}, [32]byte{2}, old) // old alone is too far back to be tried on strangers
	b.keys(old)
	b.start(t)
	address := b.Address().String()
	a.config.Remembered = func() []string { return []string{address} }
	a.config.Straggler = func(string) (entry.DeviceID, [32]byte) { return b.id, old }
	a.start(t)
	if k := next(t, a.linked); k.Peer().LinkKey != old {
		t.Error("linked under another key")
	}
}

// A lost laptop knows the former key, its own pair keys and who is where. From a
// laptop that has heard of its cut it gets not a byte after the handshake.
func TestALostLaptopsKeysOpenNothing(t *testing.T) {
	w := newWorld(t)
	a, lost := w.pair(t)
	a.keys([32]byte{1})
	a.former(w.key)
	a.members(a)
	w.cut[lost.id] = true
	a.start(t)
	pair, err := PairKey(lost.device, a.device.Public().(ed25519.PublicKey), w.staff)
	if err != nil {
		t.Fatal(err)
	}
	for name, key := range map[string][32]byte{"the former link key": w.key, "its pair key": pair} {
		raw, err := net.Dial("tcp", a.Address().String())
		if err != nil {
			t.Fatal(err)
		}
		conn := tls.Client(raw, dialTLS())
		if err := conn.Handshake(); err != nil {
			t.Fatal(err)
		}
		e, err := export(conn, linkLabel)
		if err != nil {
			t.Fatal(err)
		}
		mine := linkCode(key, dialing, w.staff, e)
		if _, err := conn.Write(mine[:]); err != nil {
			t.Fatal(err)
		}
		raw.SetReadDeadline(time.Now().Add(time.Minute))
		if got, err := io.ReadAll(conn); len(got) > 0 || errors.Is(err, net.ErrClosed) {
			t.Errorf("%s: got %d bytes (%v)", name, len(got), err)
		}
		conn.Close()
	}
}

// Whoever dials with a former key may have a thief at the other end, who shows
// a certificate of a cut device or of nobody. They see none of the dialler's.
func TestUnderAFormerKeyStrangersSeeNoCertificate(t *testing.T) {
	for name, spoil := range map[string]func(a, thief *laptop){
		"cut":     func(_, thief *laptop) { thief.world.cut[thief.id] = true },
		"unknown": func(a, thief *laptop) { a.unknown[thief.id] = true },
	} {
		w := newWorld(t)
		a, thief := w.pair(t)
		a.keys([32]byte{1})
		a.former(w.key)
		spoil(a, thief)
		shown := make(chan []byte, 1)
		listener, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		defer listener.Close()
		go func() { shown <- thief.lure(listener, w.key) }()
		a.start(t)
		address := listener.Addr().String()
		if _, err := a.dialWith(context.Background(), address, w.key); err == nil {
			t.Errorf("%s: linked", name)
		}
		if got := next(t, shown); len(got) > 0 {
			t.Errorf("%s: shown %d bytes", name, len(got))
		}
	}
}

// lure answers one dial as a listener with the key does, and returns what else
// it is sent.
func (l *laptop) lure(listener net.Listener, key [32]byte) []byte {
	raw, err := listener.Accept()
	if err != nil {
		return []byte(err.Error())
	}
	defer raw.Close()
	config, err := listenTLS()
	if err != nil {
		return []byte(err.Error())
	}
	conn := tls.Server(raw, config)
	if err := conn.Handshake(); err != nil {
		return []byte(err.Error())
	}
	e, err := export(conn, linkLabel)
	if err != nil {
		return []byte(err.Error())
	}
	var got code
	if _, err := io.ReadFull(conn, got[:]); err != nil {
		return []byte(err.Error())
	}
	p := proof{Port: 1, Certificate: l.cert}
	p.Signature = ed25519.Sign(l.device, proofMessage(listening, l.world.staff, e, p.Port, p.Certificate))
	mine := linkCode(key, listening, l.world.staff, e)
	if _, err := conn.Write(appendFrame(mine[:], p.encode())); err != nil {
		return []byte(err.Error())
	}
	raw.SetReadDeadline(time.Now().Add(time.Minute))
	rest, _ := io.ReadAll(conn) // until the dialler hangs up
	return rest
}

// Beacons under a former key are heard, from members alone: a straggler is found
// by them, and whoever was revoked isn't.
func TestBeaconsUnderAFormerKeyAreHeardFromMembers(t *testing.T) {
	w := newWorld(t)
	a, b := w.pair(t)
	a.keys([32]byte{1})
	a.former(w.key)
	a.members(a, b)
	a.start(t)
	packet, err := sealBeacon(b.config, w.key, 4711, beaconPlace)
	if err != nil {
		t.Fatal(err)
	}
	if s, ok := a.open(packet, netip.AddrPort{}); !ok || s.Device != b.id || s.Key != w.key {
		t.Errorf("a straggler's beacon: %v, %v", s, ok)
	}
	a.Mesh.cfg.Members = func() map[entry.DeviceID]ed25519.PublicKey { return nil }
	if _, ok := a.open(packet, netip.AddrPort{}); ok {
		t.Error("heard from somebody who isn't a member")
	}
}
