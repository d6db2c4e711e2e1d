package mesh

import (
	"net"
	"net/netip"
	"slices"
	"strconv"
	"sync"
	"time"
)

// attached is one address of this laptop with the network it is on.
type attached struct {
	iface  net.Interface
	prefix netip.Prefix
}

// networks lists where this laptop is attached right now: every usable
// interface, or the one that has the host address. It is asked anew each
// time, as laptops change networks.
func networks(host netip.Addr) ([]attached, error) {
	return attachments(func(_ net.Interface, p netip.Prefix) bool {
		if p.Addr().IsLinkLocalUnicast() && p.Addr().Is6() {
			return false // fe80:: addresses mean nothing without a zone of the reader's own
		}
		return !host.IsValid() || host.IsUnspecified() || p.Addr() == host
	})
}

// attachments lists the addresses that fit, of interfaces that are up.
func attachments(fits func(net.Interface, netip.Prefix) bool) ([]attached, error) {
	interfaces, err := net.Interfaces()
	if err != nil {
		return nil, err
	}
	var found []attached
	for _, iface := range interfaces {
		if iface.Flags&net.FlagUp == 0 {
			continue
		}
		addrs, err := iface.Addrs()
		if err != nil { // the interface has just gone
			continue
		}
		for _, addr := range addrs {
			if p, err := netip.ParsePrefix(addr.String()); err == nil && fits(iface, p) {
				found = append(found, attached{iface, p})
			}
		}
	}
	return found, nil
}

// nearby remembers the networks for a moment: with many laptops there are many
// beacons, and asking the system costs more than all the rest of reading one.
type nearby struct {
	mu    sync.Mutex
	asked time.Time
	nets  []attached
}

const nearbyFor = time.Second

func (n *nearby) now() []attached {
	n.mu.Lock()
	defer n.mu.Unlock()
	if time.Since(n.asked) >= nearbyFor {
		nets, err := networks(netip.Addr{})
		if err != nil {
			return nil
		}
		n.nets, n.asked = nets, time.Now()
	}
	return n.nets
}

// reachable lists the addresses at which other laptops may find a port here. Those
// of a link come only where there are no others, since they lead nowhere else; they
// have no zone, which is another one on each laptop (see [zoned]). Loopback comes
// only if there is nothing else.
func reachable(host netip.Addr, port uint16) []netip.AddrPort {
	nets, err := networks(host)
	if err != nil {
		return nil
	}
	var outside, inside []netip.AddrPort
	for _, n := range nets {
		at := netip.AddrPortFrom(n.prefix.Addr(), port)
		if n.prefix.Addr().IsLoopback() {
			inside = append(inside, at)
		} else {
			outside = append(outside, at)
		}
	}
	if len(outside) > 0 {
		return outside
	}
	local, err := localNetworks(host)
	if err != nil || len(local) == 0 {
		return inside
	}
	for _, n := range local {
		outside = append(outside, netip.AddrPortFrom(n.prefix.Addr().WithZone(""), port))
	}
	return outside
}

// zoned lists how an address, as typed, may be dialled from here: one of a link,
// which says nothing of the interface, once over each interface that has a link.
func zoned(address string) []string {
	address = ported(address)
	at, err := netip.ParseAddrPort(address)
	if err != nil || !isLocal(at.Addr()) || at.Addr().Zone() != "" {
		return []string{address}
	}
	local, err := localNetworks(netip.Addr{})
	if err != nil || len(local) == 0 {
		return []string{address}
	}
	var ways []string
	for _, n := range local {
		way := netip.AddrPortFrom(at.Addr().WithZone(n.iface.Name), at.Port()).String()
		if !slices.Contains(ways, way) {
			ways = append(ways, way)
		}
	}
	return ways
}

// placeOf tells where a peer can be dialled: where it was, or where it says
// it listens on the machine that it came from.
func placeOf(remote net.Addr, mine side, port uint16) (address string, listens bool) {
	if mine == dialing || port == 0 {
		return remote.String(), mine == dialing
	}
	host, _, err := net.SplitHostPort(remote.String())
	if err != nil {
		return remote.String(), false
	}
	return net.JoinHostPort(host, strconv.Itoa(int(port))), true
}

// withPort adds the default port to an address that has none, and the interface to
// one of a link where there is no choice.
func withPort(address string) string {
	if ways := zoned(address); len(ways) == 1 {
		return ways[0]
	}
	return ported(address)
}

func ported(address string) string {
	if _, _, err := net.SplitHostPort(address); err == nil {
		return address
	}
	if ip, err := netip.ParseAddr(address); err == nil {
		return netip.AddrPortFrom(ip, DefaultPort).String()
	}
	return net.JoinHostPort(address, strconv.Itoa(DefaultPort))
}
