package mesh

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"fmt"
	"net"
	"net/netip"
	"strconv"
	"sync"

	"plumbline/sync/entry"
)

// Mesh is this laptop's side of all links.
type Mesh struct {
	cfg    Config
	self   entry.DeviceID
	host   netip.Addr
	front  *front
	broker *broker
	plan   *plan
	near   nearby
	// ctx ends with the mesh, and every link with it.
	ctx  context.Context
	stop context.CancelCauseFunc
	// running counts the listener, the dialler, what keeps links, the beacon and
	// every link.
	running sync.WaitGroup
	closing sync.Once
	// wake makes the dialler look at its plan before its time.
	wake chan struct{}
	// speak makes the beacon speak before its time.
	speak chan struct{}
	// pairKeys holds the keys in common with devices, by DeviceID. They never
	// change.
	pairKeys sync.Map

	mu     sync.Mutex
	closed bool
	links  map[entry.DeviceID]*link // with the newest link of each, until its Unlinked
	calls  map[entry.DeviceID]bool  // devices that a dial is settling with
	epoch  uint64                   // counts Recheck
}

// Start listens, looks for the other laptops and links to them until Close,
// or until ctx ends.
func Start(ctx context.Context, cfg Config) (*Mesh, error) {
	cfg, err := cfg.checked()
	if err != nil {
		return nil, err
	}
	m := &Mesh{
		cfg:  cfg,
		self: entry.DeviceOf(cfg.Device.Public().(ed25519.PublicKey)),
		wake: make(chan struct{}, 1), speak: make(chan struct{}, 1),
		links: make(map[entry.DeviceID]*link), calls: make(map[entry.DeviceID]bool),
	}
	m.plan = newPlan(m.self)
	if cfg.Host != "" {
		if m.host, err = netip.ParseAddr(cfg.Host); err != nil {
			return nil, fmt.Errorf("host to listen on: %w", err)
		}
	}
	listener, err := listen(cfg.Host, cfg.Port)
	if err != nil {
		return nil, err
	}
	if m.front, err = newFront(listener, cfg.Log, m.meet); err == nil {
		m.front.knows = m.plan.knows
		m.broker, err = newBroker(cfg.Log, cfg.Random)
	}
	if err != nil {
		listener.Close()
		return nil, err
	}
	m.ctx, m.stop = context.WithCancelCause(ctx)
	m.running.Go(func() { m.front.run(m.ctx) })
	m.running.Go(m.dialOn)
	m.running.Go(m.keep)
	if cfg.Beacon {
		m.running.Go(m.beacon)
	}
	context.AfterFunc(m.ctx, func() { m.Close() })
	return m, nil
}

// listen takes the port, or any free one if somebody else has it. The caller
// keeps the port that it got and asks for it the next time.
func listen(host string, port int) (net.Listener, error) {
	at := func(port int) string { return net.JoinHostPort(host, strconv.Itoa(port)) }
	if port > 0 {
		if listener, err := net.Listen("tcp", at(port)); err == nil {
			return listener, nil
		}
	}
	listener, err := net.Listen("tcp", at(0))
	if err != nil {
		return nil, fmt.Errorf("listen for other laptops on %q: %w", host, err)
	}
	return listener, nil
}

// Close ends all links, waits for their Unlinked calls and stops listening.
func (m *Mesh) Close() error {
	m.closing.Do(func() {
		m.mu.Lock()
		m.closed = true
		m.mu.Unlock()
		m.stop(ErrClosed)
		m.front.listener.Close()
		m.running.Wait()
		m.broker.close()
	})
	return nil
}

// Address returns where this laptop listens. Its IP address may be
// unspecified: all interfaces.
func (m *Mesh) Address() netip.AddrPort {
	at, err := netip.ParseAddrPort(m.front.listener.Addr().String())
	if err != nil {
		panic("mesh: the listener's address isn't one: " + err.Error())
	}
	return at
}

// Addresses returns where other laptops may reach this one right now.
func (m *Mesh) Addresses() []netip.AddrPort { return reachable(m.host, m.port()) }

func (m *Mesh) port() uint16 { return m.Address().Port() }

// Recheck judges all links again and closes at once those no longer admitted.
// An admission under way is judged again, too. It must be called after every
// change of what [Config.Admit] answers, outside of any lock that Admit takes.
func (m *Mesh) Recheck() {
	m.mu.Lock()
	m.epoch++
	m.mu.Unlock()
	for _, l := range m.live() {
		peer, err := m.cfg.Admit(l.certificate)
		if err != nil {
			l.fail(fmt.Errorf("no longer admitted: %w", err))
			continue
		}
		l.judged(peer)
	}
}

// Links returns the live links.
func (m *Mesh) Links() []Link {
	live := m.live()
	links := make([]Link, len(live))
	for i, l := range live {
		links[i] = l
	}
	return links
}

func (m *Mesh) live() []*link {
	m.mu.Lock()
	defer m.mu.Unlock()
	var live []*link
	for _, l := range m.links {
		if l.ctx.Err() == nil {
			live = append(live, l)
		}
	}
	return live
}

func (m *Mesh) linked(device entry.DeviceID) bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	l := m.links[device]
	return l != nil && l.ctx.Err() == nil
}

// admit enters a link among the live ones, judged once more, and returns the
// link that it replaces. Admit is asked without the lock held and counts only
// if nothing was rechecked meanwhile: judging and acting thus happen as one,
// and nobody is called out to under a lock.
func (m *Mesh) admit(l *link) (replaced *link, err error) {
	for {
		m.mu.Lock()
		epoch := m.epoch
		m.mu.Unlock()
		peer, err := m.cfg.Admit(l.certificate)
		if err != nil {
			return nil, err
		}
		l.judged(peer)
		replaced, entered, err := m.enter(l, epoch)
		if entered || err != nil {
			return replaced, err
		}
	}
}

func (m *Mesh) enter(l *link, epoch uint64) (replaced *link, entered bool, err error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.closed {
		return nil, false, ErrClosed
	}
	if m.epoch != epoch {
		return nil, false, nil
	}
	old := m.links[l.device]
	if old != nil && old.ctx.Err() == nil && m.keeps(old, l) {
		return nil, false, ErrLinked
	}
	m.links[l.device] = l
	m.running.Add(1)
	if old != nil {
		old.fail(fmt.Errorf("%w here: replaced by a newer link to the same device", ErrLinkClosed))
	}
	return old, true, nil
}

// keeps decides between two links to one device, alike on both ends: the one
// that the lower device dialled stays. Of two dialled by one side the newer
// stays: a laptop doesn't dial a device that it has a link to, so its old one
// must be dead.
func (m *Mesh) keeps(old, new *link) bool {
	return old.dialler != new.dialler && old.dialler == lower(m.self, old.device)
}

func lower(a, b entry.DeviceID) entry.DeviceID {
	if bytes.Compare(a[:], b[:]) < 0 {
		return a
	}
	return b
}

// start lives out a link that was admitted.
func (m *Mesh) start(l, replaced *link) {
	go func() {
		defer m.running.Done()
		l.run(replaced)
	}()
}

func (m *Mesh) forget(l *link) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.links[l.device] == l {
		delete(m.links, l.device)
	}
}
