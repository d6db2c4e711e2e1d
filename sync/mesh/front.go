package mesh

import (
	"context"
	"crypto/tls"
	"errors"
	"log/slog"
	"net"
	"net/netip"
	"sync"
	"time"

	"golang.org/x/time/rate"
)

// What a stranger may take before showing anything.
const (
	strangerBytes = 16 << 10
	strangerTime  = 3 * time.Second
	// A handshake costs about half a millisecond of a core, so that strangers
	// can take up 2.5 % of one.
	handshakesPerSecond = 50
)

// front is where strangers arrive: it bounds what they cost and brings those
// that finish a TLS handshake to serve. It sends nothing of its own.
type front struct {
	listener net.Listener
	tls      *tls.Config
	log      *slog.Logger
	// serve holds a half-open slot until it returns. The connection is then
	// serve's: closed, or a peer.
	serve func(ctx context.Context, conn *tls.Conn, raw *budgetConn)
	// knows, if set, reports whether a laptop of the staff was at the address.
	knows func(netip.Addr) bool

	// Whoever floods from a thousand addresses takes all room for strangers and
	// all their turns, so addresses of laptops that are known have their own.
	strangers, known door
	wg               sync.WaitGroup
}

// door is room for half-open connections and the rate of their handshakes.
type door struct {
	slots   slots
	limiter *rate.Limiter
}

func newFront(listener net.Listener, log *slog.Logger, serve func(context.Context, *tls.Conn, *budgetConn)) (*front, error) {
	config, err := listenTLS()
	if err != nil {
		return nil, err
	}
	f := &front{listener: listener, tls: config, log: log, serve: serve}
	f.strangers.limiter = rate.NewLimiter(handshakesPerSecond, halfOpen)
	f.known.limiter = rate.NewLimiter(handshakesPerSecond, halfOpen)
	return f, nil
}

// run accepts until the listener is closed, and returns when every stranger
// has been dealt with. Ending ctx makes that quick.
func (f *front) run(ctx context.Context) {
	defer f.wg.Wait()
	for wait := 5 * time.Millisecond; ; {
		conn, err := f.listener.Accept()
		if errors.Is(err, net.ErrClosed) {
			return
		}
		if err != nil {
			// Usually too many open files. Waiting lets some be closed.
			f.log.Warn("can't accept a connection", "error", err)
			wait = min(2*wait, time.Second)
			select {
			case <-time.After(wait):
			case <-ctx.Done():
			}
			continue
		}
		wait = 5 * time.Millisecond
		f.wg.Go(func() { f.meet(ctx, conn) })
	}
}

func (f *front) meet(ctx context.Context, conn net.Conn) {
	source, _ := netip.ParseAddrPort(conn.RemoteAddr().String())
	at := f.doorFor(source.Addr().Unmap())
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	slot := at.slots.take(source.Addr(), func() { conn.Close(); cancel() })
	if slot == nil {
		conn.Close()
		return
	}
	defer at.slots.free(slot)
	defer context.AfterFunc(ctx, func() { conn.Close() })()
	conn.SetDeadline(time.Now().Add(strangerTime))
	raw := newBudgetConn(conn, strangerBytes)
	secured := tls.Server(raw, f.tls)
	if err := at.handshake(ctx, secured); err != nil {
		f.log.Debug("a stranger didn't get through the handshake", "source", source, "error", err)
		conn.Close()
		return
	}
	f.serve(ctx, secured, raw)
}

func (f *front) doorFor(source netip.Addr) *door {
	if f.knows != nil && f.knows(source) {
		return &f.known
	}
	return &f.strangers
}

// handshake waits for its turn inside the slot, so that an address that
// floods waits behind its own eight. A turn that isn't taken, as the slot was
// lost meanwhile, goes to the next.
func (d *door) handshake(ctx context.Context, conn *tls.Conn) error {
	ctx, cancel := context.WithTimeout(ctx, strangerTime)
	defer cancel()
	if err := d.limiter.Wait(ctx); err != nil {
		return err
	}
	return conn.HandshakeContext(ctx)
}
