package node

import (
	"context"
	"crypto/ed25519"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"sync"
	"syscall"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
	"plumbline/sync/mesh"
)

// maxToldRefusals is how many refusals of one link go into the node's output.
const maxToldRefusals = 16

// peerLink is a link with what waits to be sent over it.
type peerLink struct {
	id   LinkID
	link mesh.Link
	stop context.CancelFunc // ends its pump
	// refusals counts what was refused; guarded by the node's mu.
	refusals int

	mu      sync.Mutex
	waiting [][]byte
	bytes   int
	wake    chan struct{}
	// drained is set when the peer may no longer be linked: what waits is still
	// sent, nothing more is taken. It is closed once that has gone out.
	drained   chan struct{}
	isDrained bool
}

// maxWaiting bounds what waits for one link, in bytes. A peer that takes
// nothing for so long loses the link, and resumes later from what it holds.
const maxWaiting = 64 << 20

func (l *peerLink) queue(message []byte) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.drained != nil {
		return
	}
	if l.bytes += len(message); l.bytes > maxWaiting {
		l.link.Close("it takes nothing")
		return
	}
	l.waiting = append(l.waiting, message)
	select {
	case l.wake <- struct{}{}:
	default:
	}
}

func (l *peerLink) next() ([]byte, bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if len(l.waiting) == 0 {
		if l.drained != nil && !l.isDrained {
			close(l.drained)
			l.isDrained = true
		}
		return nil, false
	}
	m := l.waiting[0]
	l.waiting[0] = nil
	l.waiting = l.waiting[1:]
	l.bytes -= len(m)
	return m, true
}

// pump sends what waits, in order, until the link or the node ends.
func (l *peerLink) pump(ctx context.Context) {
	for {
		for m, ok := l.next(); ok; m, ok = l.next() {
			if l.link.Send(ctx, m) != nil {
				return // the link is over; Unlinked says why
			}
		}
		select {
		case <-ctx.Done():
			return
		case <-l.wake:
		}
	}
}

// leave takes nothing more and returns what is closed once the rest has gone.
func (l *peerLink) leave() <-chan struct{} {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.drained == nil {
		l.drained = make(chan struct{})
		select {
		case l.wake <- struct{}{}:
		default:
		}
	}
	return l.drained
}

// handler receives from the mesh what happens on links.
type handler struct{ *Node }

func (h handler) Linked(link mesh.Link) {
	n := h.Node
	ctx, cancel := context.WithCancel(n.ctx)
	n.mu.Lock()
	n.lastLink++
	l := &peerLink{id: n.lastLink, link: link, stop: cancel, wake: make(chan struct{}, 1)}
	n.links[l.id] = l
	n.mu.Unlock()
	n.spawn(func() { l.pump(ctx) })
	n.remember(link.Peer())
	n.meet()
	n.watchers.peers()
	n.put(Linked{l.id, link.Peer().Device})
}

func (h handler) Received(link mesh.Link, message []byte) {
	if l := h.linkOf(link); l != nil {
		h.put(Received{l.id, message})
	}
}

func (h handler) Unlinked(link mesh.Link, err error) {
	l := h.linkOf(link)
	if l == nil {
		return
	}
	h.cfg.Log.Info("link ended", "device", link.Peer().Device, "cause", err)
	h.mu.Lock()
	delete(h.links, l.id)
	h.mu.Unlock()
	l.stop()
	h.watchers.peers()
	h.put(Unlinked{l.id})
}

// put hands an event to the owner, and waits while too many wait already.
func (n *Node) put(e Event) {
	select {
	case n.inbox <- e:
	case <-n.ctx.Done():
	}
}

func (n *Node) linkOf(link mesh.Link) *peerLink {
	n.mu.Lock()
	defer n.mu.Unlock()
	for _, l := range n.links {
		if l.link == link {
			return l
		}
	}
	return nil
}

// startLinks opens this laptop to its staff.
func (n *Node) startLinks() error {
	staff, err := n.id().staff()
	if err != nil {
		return err
	}
	port := n.cfg.Links.Port
	if port == 0 {
		port = n.keptPort()
	}
	m, err := mesh.Start(n.ctx, mesh.Config{
		Staff: staff, Device: n.pair, Random: n.cfg.Random, Log: n.cfg.Log, Handler: handler{n},
		Host: n.cfg.Links.Host, Port: port, Beacon: n.cfg.Links.Beacon, BeaconPort: n.cfg.Links.BeaconPort,
		Certificate: n.onLinks, Admit: n.admit, Introduce: n.introduce, Learn: n.learn, LinkKeys: n.linkKeys, FormerKeys: n.formerKeys,
		Members:    func() map[entry.DeviceID]ed25519.PublicKey { return n.store.Verdict().Admitted() },
		Remembered: n.remembered, Straggler: n.straggler,
	})
	if err != nil {
		return err
	}
	if want := n.cfg.Links.Port; want > 0 && int(m.Address().Port()) != want {
		// Who names a port has opened it in a firewall, or told others of it.
		m.Close()
		return refuse(ErrInvalid, "port %d for links is taken: name another, or leave it out to take a free one", want)
	}
	n.keepPort(int(m.Address().Port()))
	n.mu.Lock()
	n.mesh = m
	n.mu.Unlock()
	n.step(Tend{})
	return nil
}

func (n *Node) linkKeys() [][32]byte {
	usable, _ := serving(n.store.Verdict(), n.id().linkKeys())
	return usable
}

func (n *Node) formerKeys() [][32]byte {
	_, former := serving(n.store.Verdict(), n.id().linkKeys())
	return former
}

func (n *Node) admit(certificate []byte) (mesh.Peer, error) {
	cert, admission := n.store.Verdict().Admission(certificate)
	switch admission {
	case merge.Unknown:
		return mesh.Peer{}, mesh.ErrUnknownDevice
	case merge.Revoked:
		return mesh.Peer{}, fmt.Errorf("laptop %s was revoked", entry.DeviceOf(cert.Device))
	}
	return mesh.Peer{Device: entry.DeviceOf(cert.Device), Person: cert.Person, Role: cert.Role}, nil
}

func (n *Node) keepMeta(key string, value any) {
	data, err := json.Marshal(value)
	if err == nil {
		err = n.store.SetMeta(n.ctx, key, data)
	}
	if err != nil {
		// It only saves a search the next time.
		n.cfg.Log.Warn("not kept", "what", key, "cause", err)
	}
}

// Connect turns to a laptop at an address, and remembers the address.
func (n *Node) Connect(ctx context.Context, address string) error {
	n.mu.Lock()
	m := n.mesh
	n.mu.Unlock()
	if m == nil {
		return refuse(ErrInvalid, "this laptop has no links now: start it with plumbline run, then connect")
	}
	if err := m.Dial(ctx, address); err != nil && !errors.Is(err, mesh.ErrLinked) {
		return unreached(address, err)
	}
	n.rememberAddress(address)
	return nil
}

// unreached tells an address where nobody is from a laptop that won't link.
func unreached(address string, err error) error {
	var op *net.OpError
	if errors.As(err, &op) && op.Op == "dial" && !errors.Is(err, syscall.EINVAL) { // that an address leads nowhere by itself
		return refuse(ErrInvalid, "nobody can be reached at %s (%v): see that plumbline runs there, and that this is an address its status shows", address, op.Err)
	}
	return refuse(ErrInvalid, "%v", err)
}
