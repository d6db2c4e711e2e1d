package mesh

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"crypto/rand"
	"crypto/tls"
	"io"
	"net"
	"net/netip"
	"testing"
	"time"
)

// FuzzBeacon reads what may come in on the beacon's port, and what a member may
// have sealed. Nothing is taken for a beacon of a device that it didn't sign.
func FuzzBeacon(f *testing.F) {
	w := newWorld(f)
	a := w.laptop(f)
	packet, err := sealBeacon(a.config, w.key, 4711, []netip.Addr{netip.MustParseAddr("192.0.2.7")})
	if err != nil {
		f.Fatal(err)
	}
	aead, err := beaconSeal(w.key, w.staff)
	if err != nil {
		f.Fatal(err)
	}
	nonce := packet[:aead.NonceSize()]
	plain, err := aead.Open(nil, nonce, packet[len(nonce):], nil)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(packet, plain)
	f.Add(packet[:100], make([]byte, beaconPlain))
	f.Fuzz(func(t *testing.T, outside, inside []byte) {
		if _, ok := openBeacon(w.staff, [][32]byte{w.key}, outside); ok && !bytes.Equal(outside, packet) {
			t.Errorf("%x is taken for a beacon", outside)
		}
		if len(inside) > beaconPlain {
			inside = inside[:beaconPlain]
		}
		inside = append(bytes.Clone(inside), make([]byte, beaconPlain-len(inside))...)
		sealed := aead.Seal(bytes.Clone(nonce), nonce, inside, nil)
		if s, ok := openBeacon(w.staff, [][32]byte{w.key}, sealed); ok && s.Device == a.id && !bytes.Equal(inside, plain) {
			t.Errorf("%x is taken for a beacon of %s", inside, s.Device)
		}
	})
}

// FuzzProof reads a proof and checks its signature: none but the device's own
// passes.
func FuzzProof(f *testing.F) {
	w := newWorld(f)
	a := w.laptop(f)
	good := proof{Port: 9, Certificate: a.cert}
	good.Signature = ed25519.Sign(a.device, proofMessage(dialing, w.staff, exporter{}, good.Port, good.Certificate))
	f.Add(good.encode())
	f.Add(good.encode()[:70])
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := decodeProof(data)
		if err != nil {
			return
		}
		if !bytes.Equal(p.encode(), data) {
			t.Errorf("%x is written as %x", data, p.encode())
		}
		if _, err := p.device(dialing, w.staff, exporter{}); err == nil && !bytes.Equal(data, good.encode()) {
			t.Errorf("a proof that nobody made passes: %x", data)
		}
	})
}

// FuzzFrame reads a frame: never more than is allowed, and only what is there.
func FuzzFrame(f *testing.F) {
	f.Add(appendFrame(nil, []byte("a proof")))
	f.Add([]byte{0xff, 0xff, 0xff, 0xff, 1})
	f.Fuzz(func(t *testing.T, data []byte) {
		got, err := readFrame(bytes.NewReader(data), 64)
		if err == nil && (len(got) > 64 || !bytes.HasPrefix(data, appendFrame(nil, got))) {
			t.Errorf("%x holds %x", data, got)
		}
	})
}

// FuzzGuard follows the NATS protocol however the bytes are cut, and comes to
// the same end.
func FuzzGuard(f *testing.F) {
	f.Add([]byte("INFO {}\r\nMSG a.d.m 1 5\r\nhello\r\nHMSG a 1 12 17\r\nNATS/1.0\r\n\r\nhello\r\nPING\r\n"), byte(3))
	f.Add([]byte("MSG a 1 99999999999999999999\r\n"), byte(1))
	f.Fuzz(func(t *testing.T, data []byte, size byte) {
		whole, parts := &guardConn{}, &guardConn{}
		var cut error
		for rest := data; len(rest) > 0 && cut == nil; {
			n := min(len(rest), int(size)+1)
			cut, rest = parts.follow(rest[:n]), rest[n:]
		}
		err := whole.follow(data)
		if (err == nil) != (cut == nil) || err == nil && (whole.skip != parts.skip || !bytes.Equal(whole.line, parts.line)) {
			t.Errorf("whole: %v, %d to skip, line %q; in parts: %v, %d, %q", err, whole.skip, whole.line, cut, parts.skip, parts.line)
		}
		if whole.skip > MaxMessage+2 || len(whole.line) > lineMost {
			t.Errorf("%d bytes to skip, a line of %d", whole.skip, len(whole.line))
		}
	})
}

// FuzzPairing says anything to a laptop that invites and to one that joins. With
// neither does it come to a code.
func FuzzPairing(f *testing.F) {
	f.Add(make([]byte, 64), make([]byte, 192))
	f.Add([]byte{}, []byte("no"))
	listens, err := listenTLS()
	if err != nil {
		f.Fatal(err)
	}
	_, key, err := ed25519.GenerateKey(rand.Reader)
	if err != nil {
		f.Fatal(err)
	}
	invites := InviteConfig{Root: key.Public().(ed25519.PublicKey), Device: key, Random: rand.Reader}
	f.Fuzz(func(t *testing.T, toInviter, toJoiner []byte) {
		near, far := net.Pipe()
		go speak(tls.Server(far, listens), toJoiner)
		if s, err := (JoinConfig{Word: "lusab-babad", Device: key, Random: rand.Reader}).meet(context.Background(), near); err == nil {
			t.Errorf("the joiner shows %s after %x", s.mine, toJoiner)
		}
		near.Close()
		near, far = net.Pipe()
		go speak(tls.Client(far, dialTLS()), toInviter)
		conn := tls.Server(near, listens)
		conn.SetDeadline(time.Now().Add(time.Minute))
		if err := conn.Handshake(); err != nil {
			t.Fatal(err)
		}
		if s, err := invites.meet(conn, newBudgetConn(near, strangerBytes), "lusab-babad"); err == nil {
			t.Errorf("the inviter shows %s after %x", s.mine, toInviter)
		}
		near.Close()
	})
}

// speak says something in a TLS session and hangs up.
func speak(conn *tls.Conn, what []byte) {
	go io.Copy(io.Discard, conn)
	conn.Write(what)
	conn.Close()
}
