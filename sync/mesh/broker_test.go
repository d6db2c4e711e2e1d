package mesh

import (
	"crypto/rand"
	"log/slog"
	"net"
	"testing"
	"time"

	"github.com/nats-io/nats.go"

	"plumbline/sync/entry"
)

func testBroker(t *testing.T) *broker {
	t.Helper()
	b, err := newBroker(slog.New(slog.DiscardHandler), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(b.close)
	return b
}

// client connects as a peer does: over a connection of its own, pumped.
func (b *broker) client(t *testing.T, s seat) (*nats.Conn, error) {
	t.Helper()
	inside, err := b.server.InProcessConn()
	if err != nil {
		t.Fatal(err)
	}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer listener.Close()
	near, err := net.Dial("tcp", listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	far, err := listener.Accept()
	if err != nil {
		t.Fatal(err)
	}
	go pump(far, inside)
	c, err := connect(near, s)
	if err == nil {
		t.Cleanup(c.Close)
	}
	return c, err
}

// mustClient is a client with a subscription to everything in sight.
func (b *broker) mustClient(t *testing.T, s seat, subject string) (*nats.Conn, *nats.Subscription) {
	t.Helper()
	c, err := b.client(t, s)
	if err != nil {
		t.Fatal(err)
	}
	sub, err := c.SubscribeSync(subject)
	if err == nil {
		err = c.Flush()
	}
	if err != nil {
		t.Fatal(err)
	}
	return c, sub
}

func TestASeatIsTakenOnce(t *testing.T) {
	b := testBroker(t)
	own, remote, err := b.pair(lowID)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := b.client(t, remote); err != nil {
		t.Error(err)
	}
	if _, err := b.client(t, remote); err == nil {
		t.Error("one token let two in")
	}
	if _, err := b.client(t, seat{}); err == nil {
		t.Error("no token lets in")
	}
	b.drop(own, remote)
	if _, err := b.client(t, own); err == nil {
		t.Error("a seat that was taken back lets in")
	}
	if len(b.seats) != 0 {
		t.Errorf("%d seats are left over", len(b.seats))
	}
}

// Even if both could say and hear everything, devices are kept apart by their
// accounts, and the links of one device by their tags.
func TestWhoHearsWhom(t *testing.T) {
	b := testBroker(t)
	pair := func(device entry.DeviceID, free bool) (own, remote seat) {
		own, remote, err := b.pair(device)
		if err != nil {
			t.Fatal(err)
		}
		if free {
			b.seats[own.token].Permissions, b.seats[remote.token].Permissions = nil, nil
		}
		return own, remote
	}
	ownLow, remoteLow := pair(lowID, true)
	ownHigh, _ := pair(highID, true)
	low, _ := b.mustClient(t, remoteLow, "nothing")
	_, hub := b.mustClient(t, ownLow, ">")
	high, other := b.mustClient(t, ownHigh, ">")
	if err := low.Publish("anything", []byte("x")); err != nil {
		t.Fatal(err)
	}
	if _, err := hub.NextMsg(time.Minute); err != nil {
		t.Fatal(err)
	}
	flush(t, low, high)
	if n, _, _ := other.Pending(); n != 0 {
		t.Error("another device's account hears it")
	}

	ownA, remoteA := pair(midID, false)
	ownB, _ := pair(midID, false)
	a, _ := b.mustClient(t, remoteA, remoteA.subjects(dialing).in)
	_, inA := b.mustClient(t, ownA, ownA.subjects(listening).in)
	second, inB := b.mustClient(t, ownB, ownB.subjects(listening).in)
	if err := a.Publish(remoteA.subjects(dialing).out, []byte("x")); err != nil {
		t.Fatal(err)
	}
	if _, err := inA.NextMsg(time.Minute); err != nil {
		t.Fatal(err)
	}
	flush(t, a, second)
	if n, _, _ := inB.Pending(); n != 0 {
		t.Error("another link of the same device hears it")
	}
}

// A peer may use its link's subjects and no others.
func TestAPeerIsHeldToItsSubjects(t *testing.T) {
	b := testBroker(t)
	own, remote, err := b.pair(lowID)
	if err != nil {
		t.Fatal(err)
	}
	allowed := remote.subjects(dialing)
	refused := make(chan error, 8)
	conn, err := b.server.InProcessConn()
	if err != nil {
		t.Fatal(err)
	}
	peer, err := connect(conn, remote, nats.ErrorHandler(func(_ *nats.Conn, _ *nats.Subscription, err error) { refused <- err }))
	if err != nil {
		t.Fatal(err)
	}
	defer peer.Close()
	for _, subject := range []string{">", "*.*.*", allowed.out, "$SYS.>", "_INBOX.>"} {
		if _, err := peer.SubscribeSync(subject); err != nil {
			t.Fatal(err)
		}
		if err := next(t, refused); err == nil {
			t.Error("no reason")
		}
	}
	for _, subject := range []string{allowed.in, "anything", "$SYS.REQ.SERVER.PING"} {
		if err := peer.PublishRequest(subject, "reply.to.me", nil); err != nil {
			t.Fatal(err)
		}
		next(t, refused)
	}
	_, inbox := b.mustClient(t, own, own.subjects(listening).in)
	if err := peer.Publish(allowed.out, []byte("x")); err != nil {
		t.Fatal(err)
	}
	if _, err := inbox.NextMsg(time.Minute); err != nil {
		t.Error(err)
	}
}

// flush waits until all that was published has been delivered: the server has
// handled what the sender sent, and the receiver what the server sent.
func flush(t *testing.T, sender, receiver *nats.Conn) {
	t.Helper()
	for _, c := range []*nats.Conn{sender, receiver} {
		if err := c.Flush(); err != nil {
			t.Fatal(err)
		}
	}
}
