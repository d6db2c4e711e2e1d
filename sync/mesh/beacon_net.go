package mesh

import (
	"context"
	"errors"
	"net"
	"net/netip"
	"slices"
	"strconv"
	"syscall"
	"time"
)

const (
	beaconEvery = 3 * time.Second
	// beaconContent is how long it may take while everybody who was heard of late
	// is linked. Whoever is new speaks first, and is answered at once.
	beaconContent = 12 * time.Second
	// beaconApart is the least time between two, however many laptops appear.
	beaconApart = 500 * time.Millisecond
)

// beaconGroup is for networks that carry multicast but no broadcast. It lies
// in the range that stays within one site (RFC 2365).
var beaconGroup = netip.AddrFrom4([4]byte{239, 255, 71, 47})

// air is the UDP socket for beacons. Several programs on one machine may have
// the port; each hears what is sent to all.
type air struct {
	conn   *net.UDPConn
	port   uint16
	joined map[string]bool // interfaces whose multicast is heard
}

func openAir(ctx context.Context, port int) (*air, error) {
	conn, err := listenShared(ctx, "udp4", port)
	if err != nil {
		return nil, err
	}
	return &air{conn: conn, port: uint16(port), joined: make(map[string]bool)}, nil
}

func listenShared(ctx context.Context, network string, port int) (*net.UDPConn, error) {
	lc := net.ListenConfig{Control: func(_, _ string, c syscall.RawConn) error {
		var failed error
		err := c.Control(func(fd uintptr) { failed = shareAddress(socket(fd)) })
		return errors.Join(err, failed)
	}}
	conn, err := lc.ListenPacket(ctx, network, net.JoinHostPort("", strconv.Itoa(port)))
	if err != nil {
		return nil, err
	}
	return conn.(*net.UDPConn), nil
}

// send brings a packet to everybody on one network. A network that carries
// neither broadcast nor multicast is no failure: there are others, and
// remembered addresses.
func (a *air) send(n attached, packet func() ([]byte, error)) error {
	for _, to := range a.targets(n) {
		data, err := packet()
		if err != nil {
			return err
		}
		if to == beaconGroup {
			a.option(func(fd socket) error {
				return syscall.SetsockoptInet4Addr(fd, syscall.IPPROTO_IP, syscall.IP_MULTICAST_IF, n.prefix.Addr().As4())
			})
		}
		a.conn.WriteToUDPAddrPort(data, netip.AddrPortFrom(to, a.port))
	}
	return nil
}

func (a *air) targets(n attached) []netip.Addr {
	var to []netip.Addr
	if last, ok := broadcast(n.prefix); ok && (n.iface.Flags&net.FlagBroadcast != 0 || n.prefix.Addr().IsLoopback()) {
		to = append(to, last)
	}
	if n.iface.Flags&net.FlagMulticast != 0 {
		to = append(to, beaconGroup)
	}
	return to
}

// join hears the multicast of an interface from now on.
func (a *air) join(n attached) {
	at := n.iface.Name + " " + n.prefix.String()
	if n.iface.Flags&net.FlagMulticast == 0 || a.joined[at] {
		return
	}
	a.joined[at] = true
	a.option(func(fd socket) error {
		return syscall.SetsockoptIPMreq(fd, syscall.IPPROTO_IP, syscall.IP_ADD_MEMBERSHIP,
			&syscall.IPMreq{Multiaddr: beaconGroup.As4(), Interface: n.prefix.Addr().As4()})
	})
}

// option sets an option of the socket. That a network can't have it is no
// failure.
func (a *air) option(set func(fd socket) error) {
	if c, err := a.conn.SyscallConn(); err == nil {
		_ = c.Control(func(fd uintptr) { _ = set(socket(fd)) })
	}
}

// broadcast returns the last address of an IPv4 network. On loopback it
// reaches all programs of the machine, where the system allows it.
func broadcast(p netip.Prefix) (netip.Addr, bool) {
	if !p.Addr().Is4() || p.Bits() > 30 {
		return netip.Addr{}, false
	}
	a := p.Addr().As4()
	for bit := p.Bits(); bit < 32; bit++ {
		a[bit/8] |= 0x80 >> (bit % 8)
	}
	return netip.AddrFrom4(a), true
}

// airs are the sockets that there are: a laptop may have IPv4, IPv6 or both.
type airs struct {
	four  *air
	local *localAir
}

func openAirs(ctx context.Context, port int) (airs, error) {
	four, err4 := openAir(ctx, port)
	local, err6 := openLocalAir(ctx, port)
	if err4 != nil && err6 != nil {
		return airs{}, errors.Join(err4, err6)
	}
	return airs{four, local}, nil
}

func (a airs) conns() []*net.UDPConn {
	var conns []*net.UDPConn
	if a.four != nil {
		conns = append(conns, a.four.conn)
	}
	if a.local != nil {
		conns = append(conns, a.local.conn)
	}
	return conns
}

// beacon speaks and listens until the mesh ends.
func (m *Mesh) beacon() {
	a, err := openAirs(m.ctx, m.cfg.BeaconPort)
	if err != nil {
		m.cfg.Log.Warn("no beacon: laptops won't find each other by themselves; link them by address", "error", err)
		return
	}
	for _, conn := range a.conns() {
		defer conn.Close()
		m.running.Go(func() { m.hear(conn) })
	}
	wait := beaconApart // the first few come quickly: nobody may be listening yet
	for {
		if err := m.speakOn(a); err != nil {
			m.cfg.Log.Warn("no beacon this time", "error", err)
		}
		select {
		case <-m.ctx.Done():
			return
		case <-time.After(beaconApart):
		}
		select {
		case <-m.ctx.Done():
			return
		case <-m.speak:
		case <-time.After(wait):
		}
		most := beaconEvery
		if m.plan.content(time.Now(), m.linked) {
			most = beaconContent
		}
		wait = min(2*wait, most-beaconApart)
	}
}

// speakOn sends a beacon to each network, with the address there: a laptop
// shows no network what its others are.
func (m *Mesh) speakOn(a airs) error {
	keys := m.cfg.LinkKeys()
	if len(keys) == 0 {
		return nil
	}
	nets, err := networks(m.host)
	if err != nil {
		return err
	}
	locals, err := localNetworks(m.host)
	if err != nil {
		return err
	}
	for _, n := range append(nets, locals...) {
		packet := func() ([]byte, error) {
			return sealBeacon(m.cfg, keys[0], m.port(), []netip.Addr{n.prefix.Addr()})
		}
		switch at := n.prefix.Addr(); {
		case at.Is4() && a.four != nil:
			a.four.join(n)
			err = a.four.send(n, packet)
		case isLocal(at) && a.local != nil:
			a.local.join(n.iface)
			err = a.local.send(n.iface, packet)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func (m *Mesh) hear(conn *net.UDPConn) {
	buf := make([]byte, 2*beaconSize)
	for {
		n, from, err := conn.ReadFromUDPAddrPort(buf)
		if errors.Is(err, net.ErrClosed) {
			return
		}
		if err != nil {
			// Windows reports here what became of packets sent. Elsewhere the
			// network may be gone for a while.
			select {
			case <-time.After(beaconApart):
			case <-m.ctx.Done():
			}
			continue
		}
		if s, ok := m.open(buf[:n], from); ok {
			m.sighted(s, from.Addr().Unmap())
		}
	}
}

// open reads a beacon of another laptop, unless it says nothing new of one that is
// linked: with many laptops these are most. Under a former key only members are
// heard: others may know it by now.
func (m *Mesh) open(packet []byte, from netip.AddrPort) (sighting, bool) {
	c, ok := unsealBeacon(m.cfg.Staff, m.cfg.LinkKeys(), packet)
	if !ok {
		s, ok := openBeacon(m.cfg.Staff, m.cfg.FormerKeys(), packet)
		if ok {
			_, ok = m.cfg.Members()[s.Device]
		}
		return s, ok && s.Device != m.self
	}
	at := netip.AddrPortFrom(from.Addr().Unmap(), c.Port).String()
	if c.Device == m.self || m.linked(c.Device) && m.plan.isOld(at, c.Device, c.Key, time.Now()) {
		return sighting{}, false
	}
	return c.sighting, c.isSigned()
}

// sighted proposes an address to the plan, if the packet came from where it
// says and from a network that this laptop is on: nobody can make it dial
// somebody else.
func (m *Mesh) sighted(s sighting, from netip.Addr) {
	if !slices.Contains(s.Addresses, from.WithZone("")) || !m.isNear(from) {
		return
	}
	if m.plan.hear(netip.AddrPortFrom(from, s.Port).String(), s.Device, s.Key, time.Now()) {
		poke(m.speak) // it may not have heard this one yet
	}
	poke(m.wake)
}

// isNear reports whether an address lies in an own network. One of the link does: no
// router passes it on (RFC 4291, 2.5.6), and the zone is the interface that it came by.
func (m *Mesh) isNear(from netip.Addr) bool {
	if isLocal(from) {
		return from.Zone() != ""
	}
	return slices.ContainsFunc(m.near.now(), func(n attached) bool { return n.prefix.Contains(from) })
}
