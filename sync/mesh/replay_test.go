package mesh

import (
	"bytes"
	"context"
	"crypto/tls"
	"errors"
	"io"
	"net"
	"net/netip"
	"slices"
	"testing"
	"time"
)

// What a dialler sent while it linked, recorded below TLS by somebody on the
// way, is worth nothing afterwards: the listener makes new keys for every
// session (RFC 8446, 4.2.8), so the records can't even be read.
func TestARecordedHandshakeIsNoUse(t *testing.T) {
	t.Parallel()
	a, b := newWorld(t).pair(t)
	a.start(t)
	b.start(t)
	relay, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer relay.Close()
	recorded := make(chan []byte, 1)
	go func() {
		near, err := relay.Accept()
		if err != nil {
			return
		}
		far, err := net.Dial("tcp", b.Address().String())
		if err != nil {
			return
		}
		var said bytes.Buffer
		go func() { io.Copy(near, far); near.Close() }()
		io.Copy(io.MultiWriter(far, &said), near)
		recorded <- said.Bytes()
	}()
	if err := a.Dial(context.Background(), relay.Addr().String()); err != nil {
		t.Fatal(err)
	}
	next(t, b.linked)
	a.Mesh.Close()
	next(t, b.unlinked)
	replay := next(t, recorded)
	if len(replay) < 1000 {
		t.Fatalf("only %d bytes were recorded", len(replay)) // else this test shows nothing
	}
	conn, err := net.Dial("tcp", b.Address().String())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	conn.Write(replay) // may fail: the other side hangs up when it likes
	answer, _ := io.ReadAll(conn)
	// It answers the hello, as TLS has it: that is what a stranger may cause.
	// Once the records don't fit, there is an alert at most (RFC 8446, 6.2).
	if most := helloAnswer(t, b.Address()) + 64; len(answer) > most {
		t.Errorf("%d bytes came back, and a hello alone causes %d at most", len(answer), most)
	}
	if len(b.linked) != 0 || len(b.Links()) != 0 {
		t.Error("the recording became a link")
	}
}

// helloAnswer is how many bytes the listener's part of a TLS handshake takes.
func helloAnswer(t *testing.T, at netip.AddrPort) int {
	t.Helper()
	raw, err := net.Dial("tcp", at.String())
	if err != nil {
		t.Fatal(err)
	}
	defer raw.Close()
	counted := &countingConn{Conn: raw}
	if err := tls.Client(counted, dialTLS()).Handshake(); err != nil {
		t.Fatal(err)
	}
	return counted.read
}

// A member that keeps all it said in one session, code, proof and verdicts, and
// says it again in another, is told nothing: all of it was bound to the first
// one's exporter value (RFC 8446, 7.5; RFC 9266).
func TestWhatWasSaidInOneSessionIsNoUseInAnother(t *testing.T) {
	a := newWorld(t).laptop(t).start(t)
	b := a.world.laptop(t)
	said := memberSays(t, a, b)
	conn, counted := stranger(t, a.Address())
	conn.Write(said)
	if n, err := io.Copy(io.Discard, conn); n != 0 || counted.(*countingConn).read != 0 {
		t.Errorf("%d bytes came, %d below TLS (%v)", n, counted.(*countingConn).read, err)
	}
	if len(a.linked) != 0 {
		t.Error("a link came of it")
	}
}

// memberSays links b's keys to a by hand, up to the seat, and returns what was
// said inside TLS.
func memberSays(t *testing.T, a, b *laptop) []byte {
	t.Helper()
	talk, kept := talkTo(t, a, b, dialTLS())
	if err := errors.Join(talk.call(b.world.key), talk.settle()); err != nil {
		t.Fatal(err)
	}
	return kept.Bytes()
}

// talkTo opens a session from b, which isn't started, to a. What is said in it
// can be read only below TLS, so it is noted as it is written.
func talkTo(t *testing.T, a, b *laptop, config *tls.Config) (*talk, *bytes.Buffer) {
	t.Helper()
	raw, err := net.Dial("tcp", a.Address().String())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { raw.Close() })
	budget := newBudgetConn(raw, 1<<20)
	conn := tls.Client(budget, config)
	if err := conn.Handshake(); err != nil {
		t.Fatal(err)
	}
	checked, err := b.config.checked()
	if err != nil {
		t.Fatal(err)
	}
	m := &Mesh{cfg: checked, self: b.id, front: a.front}
	talk, err := m.newTalk(conn, budget, dialing)
	if err != nil {
		t.Fatal(err)
	}
	e := talk.e
	c := linkCode(b.world.key, dialing, b.world.staff, e)
	said := bytes.NewBuffer(slices.Clone(c[:]))
	said.Write(append(appendFrame(nil, talk.proof()), admits, admits))
	return talk, said
}

// No session is ever resumed, so nobody gets around the proof by having given
// it once (RFC 8446, 2.2): neither a member nor, later, who was cut.
func TestNoSessionIsResumed(t *testing.T) {
	a := newWorld(t).laptop(t).start(t)
	b := a.world.laptop(t)
	tickets := &ticketBox{LRU: tls.NewLRUClientSessionCache(4)}
	config := dialTLS()
	config.ServerName, config.ClientSessionCache = "laptop", tickets // a name to file tickets under
	for range 2 {
		talk, _ := talkTo(t, a, b, config)
		if err := errors.Join(talk.call(b.world.key), talk.settle()); err != nil {
			t.Fatal(err)
		}
		if talk.conn.ConnectionState().DidResume {
			t.Error("a session was resumed")
		}
		// A ticket would come with what follows.
		talk.raw.SetReadDeadline(time.Now().Add(200 * time.Millisecond))
		io.Copy(io.Discard, talk.conn)
	}
	if tickets.put != 0 {
		t.Errorf("%d tickets were handed out", tickets.put)
	}
	a.world.mu.Lock()
	a.world.cut[b.id] = true
	a.world.mu.Unlock()
	a.Recheck()
	talk, _ := talkTo(t, a, b, config)
	if talk.conn.ConnectionState().DidResume {
		t.Error("a cut device resumes its session")
	}
	if err := errors.Join(talk.call(b.world.key), talk.settle()); !errors.Is(err, ErrRefused) {
		t.Errorf("a cut device gets %v", err)
	}
}

// ticketBox counts the tickets that a listener hands out.
type ticketBox struct {
	LRU tls.ClientSessionCache
	put int
}

func (b *ticketBox) Get(key string) (*tls.ClientSessionState, bool) { return b.LRU.Get(key) }
func (b *ticketBox) Put(key string, s *tls.ClientSessionState) {
	if s != nil {
		b.put++
	}
	b.LRU.Put(key, s)
}

// A beacon that was recorded and is sent again, by somebody on the same network
// who hasn't the address it was sent from, makes nobody dial; nor does a forged
// one. The real one does.
func TestARecordedBeaconMakesNobodyDial(t *testing.T) {
	w := newWorld(t)
	port := freeUDP(t)
	a, honest := w.pair(t) // the lower one dials
	_, other := w.pair(t)
	for lower(a.id, other.id) != a.id {
		_, other = w.pair(t)
	}
	a.config.Beacon, a.config.BeaconPort = true, port
	a.start(t)
	trap, err := net.Listen("tcp", "127.0.0.3:0") // where the dialler would go
	if err != nil {
		t.Fatal(err)
	}
	defer trap.Close()
	knocks := make(chan net.Addr, 8)
	go func() {
		for {
			conn, err := trap.Accept()
			if err != nil {
				return
			}
			knocks <- conn.RemoteAddr()
			conn.Close()
		}
	}()
	at := trap.Addr().(*net.TCPAddr).AddrPort()
	recorded, err := sealBeacon(other.config, w.key, at.Port(), []netip.Addr{at.Addr()})
	if err != nil {
		t.Fatal(err)
	}
	forged := bytes.Clone(recorded)
	forged[40]++
	to := net.UDPAddrFromAddrPort(netip.AddrPortFrom(netip.MustParseAddr("127.0.0.1"), uint16(port)))
	send := func(from string, packet []byte) {
		conn, err := net.DialUDP("udp4", &net.UDPAddr{IP: net.ParseIP(from)}, to)
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close()
		if _, err := conn.Write(packet); err != nil {
			t.Fatal(err)
		}
	}
	honest.start(t)
	real, err := sealBeacon(honest.config, w.key, honest.port(), []netip.Addr{netip.MustParseAddr("127.0.0.1")})
	if err != nil {
		t.Fatal(err)
	}
	// Packets of one socket are handled in order, so once the real one is answered
	// by a dial, those before it have been looked at. The first may come too early.
	for len(honest.linked) == 0 && t.Context().Err() == nil {
		send("127.0.0.2", recorded) // from elsewhere
		send("127.0.0.3", forged)
		send("127.0.0.1", real)
		<-time.After(10 * time.Millisecond)
	}
	if len(knocks) != 0 {
		t.Errorf("it dialled because of a recorded or forged beacon: %v", <-knocks)
	}
	send("127.0.0.3", recorded) // else this test shows nothing
	next(t, knocks)
}
