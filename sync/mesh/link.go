package mesh

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"net"
	"sync"
	"sync/atomic"
	"time"

	"github.com/nats-io/nats.go"

	"plumbline/sync/entry"
)

// stallTime is how long Send waits for the other side to handle anything.
const stallTime = 30 * time.Second

// link is one end of a live connection. Everything that the handler is told
// about it is told by one goroutine, run.
type link struct {
	mesh        *Mesh
	device      entry.DeviceID
	certificate []byte // the peer's, judged again by Recheck
	dialler     entry.DeviceID
	raw         net.Conn // closing it cuts the peer off at once
	began       time.Time

	// ctx ends with the link; its cause is why.
	ctx  context.Context
	fail context.CancelCauseFunc
	// done is closed after Unlinked has returned.
	done chan struct{}

	client *nats.Conn
	inbox  *nats.Subscription
	to     subjects
	window *window
	// ready is closed once the other end can hear this one.
	ready   chan struct{}
	isReady sync.Once

	silent  atomic.Int64 // since how long after began nothing has come
	pinging atomic.Bool

	sending sync.Mutex // keeps messages in the order in which they found room

	mu   sync.Mutex
	peer Peer
}

func (m *Mesh) newLink(t *talk) *link {
	ctx, cancel := context.WithCancelCause(m.ctx)
	l := &link{
		mesh: m, device: t.device, certificate: t.their.Certificate, peer: t.peer, raw: t.raw.Conn, began: time.Now(),
		ctx: ctx, done: make(chan struct{}), window: newWindow(), ready: make(chan struct{}),
	}
	l.dialler = m.self
	if t.side == listening {
		l.dialler = t.device
	}
	l.fail = func(cause error) {
		cancel(cause)
		l.raw.Close()
	}
	context.AfterFunc(ctx, func() { l.raw.Close() })
	return l
}

// attach makes the link's NATS client and subscribes it.
func (l *link) attach(conn net.Conn, s seat, end side) error {
	client, err := connect(conn, s,
		nats.ClosedHandler(func(c *nats.Conn) { l.fail(closedWhy(c)) }),
		nats.ErrorHandler(func(_ *nats.Conn, _ *nats.Subscription, err error) {
			// A peer that sends beyond the window shows as a slow consumer.
			l.fail(fmt.Errorf("%w: %w", ErrFrame, err))
		}))
	if err != nil {
		return fmt.Errorf("connect to the message server: %w", err)
	}
	l.client, l.to = client, s.subjects(end)
	if l.inbox, err = client.SubscribeSync(l.to.in); err == nil {
		err = l.inbox.SetPendingLimits(2*windowMessages, 2*windowBytes)
	}
	if err == nil {
		_, err = client.Subscribe(l.to.inHandled, l.heard)
	}
	if err == nil {
		err = client.FlushTimeout(strangerTime)
	}
	if err != nil {
		client.Close()
		return fmt.Errorf("subscribe: %w", err)
	}
	return nil
}

func closedWhy(c *nats.Conn) error {
	if err := c.LastError(); err != nil {
		return err
	}
	return errHungUp
}

// heard takes the other side's count of handled messages. The first one says
// only that it listens.
func (l *link) heard(msg *nats.Msg) {
	if len(msg.Data) != 8 {
		l.fail(fmt.Errorf("%w: a count of %d bytes", ErrFrame, len(msg.Data)))
		return
	}
	if err := l.window.settle(binary.BigEndian.Uint64(msg.Data)); err != nil {
		l.fail(err)
		return
	}
	l.isReady.Do(func() { close(l.ready) })
}

func (l *link) tell(handled uint64) error {
	return l.client.Publish(l.to.outHandled, binary.BigEndian.AppendUint64(nil, handled))
}

// run tells the handler of the link's whole life, after the link that it
// replaces, if any, is over.
func (l *link) run(replaced *link) {
	defer close(l.done)
	defer l.mesh.forget(l)
	if replaced != nil {
		<-replaced.done
	}
	select {
	case <-l.ready:
		l.mesh.cfg.Handler.Linked(l)
		l.fail(l.receive())
		l.end()
		l.mesh.cfg.Handler.Unlinked(l, context.Cause(l.ctx))
	case <-l.ctx.Done():
		l.end()
	case <-time.After(strangerTime):
		l.fail(errors.New("the other laptop didn't start"))
		l.end()
	}
}

func (l *link) end() {
	l.client.Close()
	if p := l.Peer(); p.Listens {
		l.mesh.plan.ended(p.Address, l.device, time.Since(l.began), time.Now())
	}
	// Who is here is told, and looked for, at once.
	poke(l.mesh.speak)
	poke(l.mesh.wake)
	l.mesh.cfg.Log.Info("link ended", "device", l.device, "cause", context.Cause(l.ctx))
}

func (l *link) receive() error {
	for handled := uint64(1); ; handled++ {
		msg, err := l.inbox.NextMsgWithContext(l.ctx)
		if err != nil {
			return err
		}
		l.mesh.cfg.Handler.Received(l, msg.Data)
		if err := l.tell(handled); err != nil {
			return err
		}
	}
}

// Peer returns whom the link leads to, as last judged.
func (l *link) Peer() Peer {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.peer
}

func (l *link) judged(p Peer) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.peer.Person, l.peer.Role = p.Person, p.Role
}

// Send queues one message.
func (l *link) Send(ctx context.Context, message []byte) error {
	if len(message) > MaxMessage {
		return fmt.Errorf("%w: %d bytes, at most %d", ErrTooLarge, len(message), MaxMessage)
	}
	ctx, cancel := context.WithTimeoutCause(ctx, stallTime, ErrStalled)
	defer cancel()
	defer context.AfterFunc(l.ctx, cancel)()
	l.sending.Lock()
	defer l.sending.Unlock()
	if err := l.window.enter(ctx, message); err != nil {
		return l.unsent(ctx)
	}
	if l.ctx.Err() != nil {
		return l.unsent(ctx)
	}
	l.window.sent(message)
	if err := l.client.Publish(l.to.out, message); err != nil {
		return fmt.Errorf("%w: %w", ErrLinkClosed, err)
	}
	return nil
}

// unsent says why a message found no room.
func (l *link) unsent(ctx context.Context) error {
	if l.ctx.Err() != nil {
		return fmt.Errorf("%w: %w", ErrLinkClosed, context.Cause(l.ctx))
	}
	cause := context.Cause(ctx)
	if errors.Is(cause, ErrStalled) {
		l.fail(ErrStalled)
	}
	return cause
}

// Close ends the link.
func (l *link) Close(reason string) { l.fail(fmt.Errorf("%w here: %s", ErrLinkClosed, reason)) }
