package mesh

import (
	"context"
	"crypto/ed25519"
	"crypto/rand"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"testing"
	"time"

	"plumbline/sync/entry"
)

// world is an invented staff: who is granted, and the laptops that run.
type world struct {
	staff entry.StaffID
	key   [32]byte

	mu  sync.Mutex
	cut map[entry.DeviceID]bool
}

func newWorld(tb testing.TB) *world {
	w := &world{cut: make(map[entry.DeviceID]bool)}
	rand.Read(w.staff[:])
	rand.Read(w.key[:])
	return w
}

var errCut = errors.New("device is cut")

// laptop is one node of the world, with a handler that records what it is told.
type laptop struct {
	*Mesh
	id      entry.DeviceID
	device  ed25519.PrivateKey
	cert    []byte
	world   *world
	config  Config
	unknown map[entry.DeviceID]bool // grants not heard of
	learns  map[entry.DeviceID]bool // devices that an introduction makes known

	linked   chan Link
	received chan message
	unlinked chan error
}

type message struct {
	from entry.DeviceID
	data []byte
}

func (l *laptop) Linked(k Link)             { l.linked <- k }
func (l *laptop) Received(k Link, m []byte) { l.received <- message{k.Peer().Device, m} }
func (l *laptop) Unlinked(_ Link, e error)  { l.unlinked <- e }

// laptop makes a laptop that isn't started yet.
func (w *world) laptop(tb testing.TB) *laptop {
	_, key, err := ed25519.GenerateKey(rand.Reader)
	if err != nil {
		tb.Fatal(err)
	}
	public := key.Public().(ed25519.PublicKey)
	cert := entry.Certificate{Role: entry.RoleScout, Device: public}
	rand.Read(cert.Person[:])
	rand.Read(cert.Opaque[:])
	l := &laptop{
		id: entry.DeviceOf(public), device: key, cert: cert.Encode(), world: w,
		unknown: make(map[entry.DeviceID]bool), learns: make(map[entry.DeviceID]bool),
		linked: make(chan Link, 64), received: make(chan message, 1024), unlinked: make(chan error, 64),
	}
	l.config = Config{
		Staff: w.staff, Device: key,
		Certificate: func() []byte { return l.cert },
		Admit:       l.admits,
		LinkKeys:    func() [][32]byte { return [][32]byte{w.key} },
		Introduce:   func() []byte { return append([]byte("introducing "), l.id[:]...) },
		Learn:       l.learn,
		Port:        -1, Host: "127.0.0.1",
		Handler: l, Random: rand.Reader, Log: slog.New(slog.DiscardHandler),
	}
	return l
}

func (l *laptop) admits(cert []byte) (Peer, error) {
	c, err := entry.DecodeCertificate(cert)
	if err != nil {
		return Peer{}, err
	}
	id := entry.DeviceOf(c.Device)
	l.world.mu.Lock()
	defer l.world.mu.Unlock()
	switch {
	case l.world.cut[id]:
		return Peer{}, errCut
	case l.unknown[id]:
		return Peer{}, fmt.Errorf("%w: %s", ErrUnknownDevice, id)
	}
	return Peer{Person: c.Person, Role: c.Role}, nil
}

func (l *laptop) learn(intro []byte) error {
	l.world.mu.Lock()
	defer l.world.mu.Unlock()
	for id := range l.learns {
		if string(intro) == "introducing "+string(id[:]) {
			delete(l.unknown, id)
		}
	}
	return nil
}

func (l *laptop) start(tb testing.TB) *laptop {
	m, err := Start(context.Background(), l.config)
	if err != nil {
		tb.Fatal(err)
	}
	l.Mesh = m
	tb.Cleanup(func() { m.Close() })
	return l
}

// pair returns two laptops, neither of them started, the lower id first.
func (w *world) pair(tb testing.TB) (low, high *laptop) {
	low, high = w.laptop(tb), w.laptop(tb)
	if lower(low.id, high.id) != low.id {
		low, high = high, low
	}
	return low, high
}

// couple returns two laptops with a link, as each sees it.
func couple(tb testing.TB) (a, b *laptop, ab, ba Link) {
	a, b = newWorld(tb).pair(tb)
	a.start(tb)
	b.start(tb)
	if err := a.Dial(context.Background(), b.Address().String()); err != nil {
		tb.Fatal(err)
	}
	return a, b, next(tb, a.linked), next(tb, b.linked)
}

// next waits for what must come. The time only ends a test that hangs.
func next[T any](tb testing.TB, c <-chan T) T {
	tb.Helper()
	select {
	case v := <-c:
		return v
	case <-time.After(time.Minute):
		tb.Fatal("nothing came")
		panic("unreachable")
	}
}
