package mesh

import (
	"context"
	"net"
	"net/netip"

	"golang.org/x/net/ipv6"
)

// Where a network has no IPv4, as between two laptops on a cable or in a place that
// gives out IPv6 only, each interface still has an address of the link (fe80::/64).
// Beacons go from there to a group of the link, and links lead there.

// localGroup is a transient group that no router passes on (RFC 4291, 2.7).
var localGroup = netip.MustParseAddr("ff12::47:2f")

// isLocal reports whether an address is one of a link that a beacon can carry.
func isLocal(a netip.Addr) bool {
	return a.Is6() && !a.Is4In6() && localNet.Contains(a.WithZone(""))
}

var localNet = netip.MustParsePrefix("fe80::/64")

// localAir is the UDP socket for beacons of the link.
type localAir struct {
	conn   *net.UDPConn
	groups *ipv6.PacketConn
	port   uint16
	joined map[int]bool // interfaces whose group is heard
}

func openLocalAir(ctx context.Context, port int) (*localAir, error) {
	conn, err := listenShared(ctx, "udp6", port)
	if err != nil {
		return nil, err
	}
	return &localAir{conn: conn, groups: ipv6.NewPacketConn(conn), port: uint16(port), joined: make(map[int]bool)}, nil
}

// join hears the group on an interface from now on. One that can't have it is no
// failure.
func (a *localAir) join(iface net.Interface) {
	if a.joined[iface.Index] {
		return
	}
	a.joined[iface.Index] = a.groups.JoinGroup(&iface, &net.UDPAddr{IP: localGroup.AsSlice()}) == nil
}

func (a *localAir) send(iface net.Interface, packet func() ([]byte, error)) error {
	data, err := packet()
	if err != nil {
		return err
	}
	a.conn.WriteToUDPAddrPort(data, netip.AddrPortFrom(localGroup.WithZone(iface.Name), a.port))
	return nil
}

// localNetworks lists the addresses of links that this laptop has right now; none
// where it is to be found at one host address only.
func localNetworks(host netip.Addr) ([]attached, error) {
	if host.IsValid() && !host.IsUnspecified() {
		return nil, nil
	}
	return attachments(func(iface net.Interface, p netip.Prefix) bool {
		return isLocal(p.Addr()) && iface.Flags&net.FlagMulticast != 0
	})
}
