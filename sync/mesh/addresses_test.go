package mesh

import (
	"net"
	"net/netip"
	"testing"

	"github.com/stretchr/testify/require"
)

// An address of a link is tried over every interface here that has one, unless it
// names its own (RFC 4007, 11: the zone is of the machine that dials).
func TestWaysToATypedAddress(t *testing.T) {
	for typed, way := range map[string]string{
		"10.0.0.4": "10.0.0.4:27047", "10.0.0.4:1": "10.0.0.4:1", "fd00::4": "[fd00::4]:27047", "[fd00::4]:1": "[fd00::4]:1",
		"[fe80::4%eth7]:1": "[fe80::4%eth7]:1", "fe80::4%eth7": "[fe80::4%eth7]:27047", "laptop.local": "laptop.local:27047",
	} {
		require.Equal(t, []string{way}, zoned(typed), typed)
		require.Equal(t, way, withPort(typed))
	}
	zones := map[string]bool{}
	interfaces, err := net.Interfaces()
	require.NoError(t, err)
	for _, i := range interfaces {
		addrs, err := i.Addrs()
		require.NoError(t, err)
		for _, a := range addrs {
			p, err := netip.ParsePrefix(a.String())
			require.NoError(t, err)
			if p.Addr().Is6() && p.Addr().IsLinkLocalUnicast() && i.Flags&net.FlagUp != 0 && i.Flags&net.FlagMulticast != 0 {
				zones[i.Name] = true
			}
		}
	}
	ways := zoned("[fe80::4]:1")
	if len(zones) == 0 {
		require.Equal(t, []string{"[fe80::4]:1"}, ways)
		return
	}
	require.Len(t, ways, len(zones))
	for _, way := range ways {
		at := netip.MustParseAddrPort(way)
		require.Equal(t, "fe80::4", at.Addr().WithZone("").String())
		require.True(t, zones[at.Addr().Zone()], way)
	}
}

// Nobody is shown an address of a link while there is another one, nor one with a zone.
func TestAddressesShown(t *testing.T) {
	shown := reachable(netip.Addr{}, 27047)
	require.NotEmpty(t, shown)
	for _, at := range shown {
		require.Empty(t, at.Addr().Zone())
		require.Equal(t, isLocal(shown[0].Addr()), isLocal(at.Addr()))
	}
}
