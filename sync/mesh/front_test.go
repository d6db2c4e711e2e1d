package mesh

import (
	"bytes"
	"context"
	"crypto/rand"
	"crypto/tls"
	"errors"
	"io"
	"net"
	"net/netip"
	"testing"
	"time"

	"plumbline/sync/entry"
)

// stranger opens a TLS session to a laptop the way that its dialler does.
func stranger(t *testing.T, to netip.AddrPort) (*tls.Conn, net.Conn) {
	t.Helper()
	raw, err := net.Dial("tcp", to.String())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { raw.Close() })
	counted := &countingConn{Conn: raw}
	config := dialTLS()
	config.ClientSessionCache = tls.NewLRUClientSessionCache(1) // would take a ticket
	conn := tls.Client(counted, config)
	if err := conn.Handshake(); err != nil {
		t.Fatal(err)
	}
	counted.read = 0
	return conn, counted
}

type countingConn struct {
	net.Conn
	read int
}

func (c *countingConn) Read(p []byte) (int, error) {
	n, err := c.Conn.Read(p)
	c.read += n
	return n, err
}

// Not one byte follows the handshake unless the code is right: below TLS,
// where an alert would show as well.
func TestAStrangerHearsNothing(t *testing.T) {
	a := newWorld(t).laptop(t).start(t)
	for name, say := range map[string]func(conn *tls.Conn) []byte{
		"nothing": func(*tls.Conn) []byte { return nil },
		"garbage": func(*tls.Conn) []byte { return bytes.Repeat([]byte("garbage!"), 16) },
		"a flood": func(*tls.Conn) []byte { return make([]byte, 1<<20) },
		"NATS":    func(*tls.Conn) []byte { return []byte("CONNECT {\"verbose\":true}\r\nPING\r\n") },
		"a code by another key": func(conn *tls.Conn) []byte {
			e, _ := export(conn, linkLabel)
			c := linkCode([32]byte{1, 2, 3}, dialing, a.world.staff, e)
			return c[:]
		},
		"a code for another staff": func(conn *tls.Conn) []byte {
			e, _ := export(conn, linkLabel)
			c := linkCode(a.world.key, dialing, entry.StaffID{1}, e)
			return c[:]
		},
		"a code of another connection": func(*tls.Conn) []byte {
			c := linkCode(a.world.key, dialing, a.world.staff, exporter{})
			return c[:]
		},
		"the listener's own code": func(conn *tls.Conn) []byte {
			e, _ := export(conn, linkLabel)
			c := linkCode(a.world.key, listening, a.world.staff, e)
			return c[:]
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			conn, counted := stranger(t, a.Address())
			conn.Write(say(conn)) // may fail: the other side hangs up when it likes
			n, err := io.Copy(io.Discard, conn)
			if n != 0 || counted.(*countingConn).read != 0 {
				t.Errorf("%d bytes came, %d below TLS (%v)", n, counted.(*countingConn).read, err)
			}
		})
	}
}

// The TLS session itself says nothing either.
func TestTheSessionNamesNobody(t *testing.T) {
	a := newWorld(t).laptop(t).start(t)
	conn, _ := stranger(t, a.Address())
	state := conn.ConnectionState()
	if state.Version != tls.VersionTLS13 || state.NegotiatedProtocol != "" {
		t.Errorf("version %x, protocol %q", state.Version, state.NegotiatedProtocol)
	}
	cert := state.PeerCertificates[0]
	if names := len(cert.DNSNames) + len(cert.IPAddresses) + len(cert.EmailAddresses) + len(cert.URIs); names > 0 || cert.Subject.String() != "" || cert.Issuer.String() != "" {
		t.Errorf("the certificate names %q, %q", cert.Subject, cert.DNSNames)
	}
	if err := a.Mesh.Close(); err != nil {
		t.Fatal(err)
	}
	a.start(t)
	again, _ := stranger(t, a.Address())
	if bytes.Equal(cert.Raw, again.ConnectionState().PeerCertificates[0].Raw) {
		t.Error("the certificate outlives the run")
	}
}

func TestTheHelloNamesNobody(t *testing.T) {
	a := newWorld(t).laptop(t).start(t)
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer listener.Close()
	hello := make(chan *tls.ClientHelloInfo, 1)
	go func() {
		conn, err := listener.Accept()
		if err != nil {
			return
		}
		defer conn.Close()
		tls.Server(conn, &tls.Config{GetConfigForClient: func(h *tls.ClientHelloInfo) (*tls.Config, error) {
			hello <- h
			return nil, errors.New("seen enough")
		}}).Handshake()
	}()
	if err := a.Dial(context.Background(), listener.Addr().String()); err == nil {
		t.Fatal("linked to nobody")
	}
	if h := next(t, hello); h.ServerName != "" || len(h.SupportedProtos) > 0 {
		t.Errorf("the hello shows %q, %q", h.ServerName, h.SupportedProtos)
	}
}

// Somebody in the middle who ends TLS on both sides and passes every byte on
// gets no answer, since the code that it passes on belongs to another session.
func TestTheManInTheMiddleGetsNothing(t *testing.T) {
	a, b := newWorld(t).pair(t)
	a.start(t)
	b.start(t)
	config, err := listenTLS()
	if err != nil {
		t.Fatal(err)
	}
	middle, err := tls.Listen("tcp", "127.0.0.1:0", config)
	if err != nil {
		t.Fatal(err)
	}
	defer middle.Close()
	answers := make(chan int64, 1)
	go func() {
		victim, err := middle.Accept()
		if err != nil {
			return
		}
		defer victim.Close()
		onward, err := tls.Dial("tcp", b.Address().String(), dialTLS())
		if err != nil {
			return
		}
		defer onward.Close()
		go io.Copy(onward, victim)
		n, _ := io.Copy(victim, onward)
		answers <- n
	}()
	if err := a.Dial(context.Background(), middle.Addr().String()); !errors.Is(err, ErrNoAnswer) {
		t.Errorf("the dialler: %v", err)
	}
	if n := next(t, answers); n != 0 {
		t.Errorf("the listener answered %d bytes", n)
	}
}

// A relay that answers by itself has no code to show.
func TestAnImpostorIsFoundOut(t *testing.T) {
	a := newWorld(t).laptop(t).start(t)
	config, err := listenTLS()
	if err != nil {
		t.Fatal(err)
	}
	impostor, err := tls.Listen("tcp", "127.0.0.1:0", config)
	if err != nil {
		t.Fatal(err)
	}
	defer impostor.Close()
	heard := make(chan int64, 1)
	go func() {
		conn, err := impostor.Accept()
		if err != nil {
			return
		}
		defer conn.Close()
		conn.Write(make([]byte, 4096))
		n, _ := io.Copy(io.Discard, conn)
		heard <- n
	}()
	if err := a.Dial(context.Background(), impostor.Addr().String()); !errors.Is(err, ErrProof) {
		t.Errorf("got %v", err)
	}
	if n := next(t, heard); n != int64(len(code{})) {
		t.Errorf("the impostor heard %d bytes, want the code alone", n)
	}
}

func TestOneAddressHasEightHalfOpenConnections(t *testing.T) {
	a, b := newWorld(t).pair(t)
	a.start(t)
	b.start(t)
	var idle []net.Conn
	for range 2 * halfOpenPerAddr {
		conn, err := net.Dial("tcp", b.Address().String())
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close()
		idle = append(idle, conn)
	}
	// Those beyond the share are closed at once, the others when their time is
	// up; either way all of them, and none has read a byte.
	for _, conn := range idle {
		if n, _ := io.Copy(io.Discard, conn); n != 0 {
			t.Errorf("an idle stranger read %d bytes", n)
		}
	}
	if err := a.Dial(context.Background(), b.Address().String()); err != nil {
		t.Errorf("afterwards: %v", err)
	}
}

func TestSlots(t *testing.T) {
	var s slots
	var lost []string
	take := func(addr string) *slot {
		return s.take(netip.MustParseAddr(addr), func() { lost = append(lost, addr) })
	}
	for range halfOpenPerAddr {
		if take("192.0.2.1") == nil {
			t.Fatal("a share isn't eight")
		}
	}
	if take("192.0.2.1") != nil || take("::ffff:192.0.2.1") != nil {
		t.Error("one address has more than its share")
	}
	for i := range halfOpenPerAddr { // one machine, many addresses
		if take(netip.AddrFrom16([16]byte{0x20, 1, 0xd, 0xb8, 15: byte(i)}).String()) == nil {
			t.Fatal("a share isn't eight")
		}
	}
	if take("2001:db8::ffff") != nil {
		t.Error("one /64 has more than its share")
	}
	for i := len(s.held); i < halfOpen; i++ {
		if take(netip.AddrFrom4([4]byte{198, 51, 100, byte(i)}).String()) == nil {
			t.Fatal("a single connection was refused")
		}
	}
	if len(lost) != 0 {
		t.Errorf("lost before all were taken: %v", lost)
	}
	newcomer := take("203.0.113.1")
	if newcomer == nil || len(lost) != 1 || lost[0] != "192.0.2.1" {
		t.Errorf("when full, lost: %v; want the oldest of the heaviest address", lost)
	}
	s.free(newcomer)
	s.free(newcomer)
	if len(s.held) != halfOpen-1 {
		t.Errorf("%d held after one was freed twice", len(s.held))
	}
}

// Whoever floods takes no room from addresses at which a laptop of the staff
// was; nor does the limit of handshakes hold these up.
func TestKnownAddressesHaveRoomOfTheirOwn(t *testing.T) {
	a := newWorld(t).laptop(t)
	remembered := []string{"192.0.2.7:27047", "[2001:db8::7]:27047", "laptop.example:27047"}
	a.config.Remembered = func() []string { return remembered }
	a.start(t)
	a.plan.remember(remembered, time.Now()) // it may not have got there yet
	a.plan.hear("198.51.100.7:27047", highID, [32]byte{}, time.Now())
	for source, known := range map[string]bool{
		"192.0.2.7": true, "2001:db8::7": true, "198.51.100.7": true, "192.0.2.8": false, "203.0.113.1": false,
	} {
		if got := a.front.doorFor(netip.MustParseAddr(source)) == &a.front.known; got != known {
			t.Errorf("%s is known: %t, want %t", source, got, known)
		}
	}
}

// A connection that loses its slot while it waits leaves its turn to others.
func TestALostSlotGivesItsTurnBack(t *testing.T) {
	a := newWorld(t).laptop(t)
	f, err := newFront(nil, a.config.Log, nil)
	if err != nil {
		t.Fatal(err)
	}
	d := &f.strangers
	d.limiter.ReserveN(time.Now(), halfOpen+1) // the next turn is a while away
	before := d.limiter.Tokens()
	lost, cancel := context.WithCancel(context.Background())
	cancel()
	if err := d.handshake(lost, nil); !errors.Is(err, context.Canceled) {
		t.Fatalf("got %v", err)
	}
	if after := d.limiter.Tokens(); after < before {
		t.Errorf("%g turns are left, before %g", after, before)
	}
}

func TestAStrangerHasABudget(t *testing.T) {
	near, far := net.Pipe()
	defer near.Close()
	go func() {
		far.Write(make([]byte, strangerBytes+1))
		far.Close()
	}()
	b := newBudgetConn(near, strangerBytes)
	if n, err := io.Copy(io.Discard, b); n != strangerBytes || !errors.Is(err, errBudget) {
		t.Errorf("read %d bytes, then %v", n, err)
	}
	b.raise(1)
	if n, err := b.Read(make([]byte, 8)); n != 1 || err != nil {
		t.Errorf("after raising by one: %d, %v", n, err)
	}
}

// A member's laptop that has gone mad: right code, then garbage.
func TestGarbageAfterTheCode(t *testing.T) {
	a := newWorld(t).laptop(t).start(t)
	noise := make([]byte, 1<<20)
	rand.Read(noise)
	for name, garbage := range map[string][]byte{
		"noise":        noise,
		"a long frame": {0xff, 0xff, 0xff, 0xff},
		"a short one":  {0, 0, 0, 1, 7},
		"empty proof":  appendFrame(nil, make([]byte, 66)),
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			conn, _ := stranger(t, a.Address())
			e, err := export(conn, linkLabel)
			if err != nil {
				t.Fatal(err)
			}
			c := linkCode(a.world.key, dialing, a.world.staff, e)
			conn.Write(append(c[:], garbage...))
			conn.SetReadDeadline(time.Now().Add(time.Minute))
			answer, err := io.ReadAll(conn)
			var timeout net.Error
			if errors.As(err, &timeout) && timeout.Timeout() {
				t.Error("the connection is still open")
			}
			// Code and proof, but no verdict: those are all it may have said.
			if most := 32 + 4 + 2 + 64 + len(a.cert); len(answer) > most {
				t.Errorf("it answered %d bytes, at most %d are due", len(answer), most)
			}
		})
	}
	if len(a.Links()) != 0 {
		t.Error("garbage became a link")
	}
}
