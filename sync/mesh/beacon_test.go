package mesh

import (
	"bytes"
	"net"
	"net/netip"
	"testing"

	"golang.org/x/crypto/chacha20poly1305"
)

var beaconPlace = []netip.Addr{netip.MustParseAddr("192.0.2.7"), netip.MustParseAddr("198.51.100.7")}

func TestBeaconRoundTrip(t *testing.T) {
	w := newWorld(t)
	a := w.laptop(t)
	packet, err := sealBeacon(a.config, w.key, 4711, beaconPlace)
	if err != nil {
		t.Fatal(err)
	}
	s, ok := openBeacon(w.staff, [][32]byte{{9}, w.key}, packet)
	if !ok || s.Device != a.id || s.Port != 4711 || len(s.Addresses) != 2 || s.Addresses[1] != beaconPlace[1] {
		t.Errorf("read %+v, %t", s, ok)
	}
	other := w.staff
	other[0]++
	if _, ok := openBeacon(other, [][32]byte{w.key}, packet); ok {
		t.Error("another staff reads it")
	}
	if _, ok := openBeacon(w.staff, [][32]byte{{9}}, packet); ok {
		t.Error("another key opens it")
	}
	for i := range packet {
		bent := bytes.Clone(packet)
		bent[i] ^= 1
		if _, ok := openBeacon(w.staff, [][32]byte{w.key}, bent); ok {
			t.Fatalf("byte %d can be changed unnoticed", i)
		}
	}
	for n := range len(packet) {
		if _, ok := openBeacon(w.staff, [][32]byte{w.key}, packet[:n]); ok {
			t.Fatalf("%d bytes are taken for a beacon", n)
		}
	}
}

// A beacon of the link is one as all others, and carries that one address; no
// other IPv6 address goes into one.
func TestBeaconOfTheLink(t *testing.T) {
	w := newWorld(t)
	a := w.laptop(t)
	at := netip.MustParseAddr("fe80::1234:56ff:fe78:9abc")
	packet, err := sealBeacon(a.config, w.key, 4711, []netip.Addr{at})
	if err != nil {
		t.Fatal(err)
	}
	s, ok := openBeacon(w.staff, [][32]byte{w.key}, packet)
	if !ok || len(packet) != beaconSize || s.Device != a.id || s.Port != 4711 || len(s.Addresses) != 1 || s.Addresses[0] != at {
		t.Errorf("%d bytes say %+v, %t", len(packet), s, ok)
	}
	for _, other := range [][]netip.Addr{{netip.MustParseAddr("2001:db8::1")}, {netip.MustParseAddr("fe80:0:0:1::1")}, {at, at}, {at, beaconPlace[0]}} {
		if _, err := sealBeacon(a.config, w.key, 4711, other); err == nil {
			t.Errorf("a beacon carries %v", other)
		}
	}
}

// A member can't speak for another one's device.
func TestABeaconIsSignedByItsDevice(t *testing.T) {
	w := newWorld(t)
	a := w.laptop(t)
	packet, err := sealBeacon(a.config, w.key, 4711, beaconPlace)
	if err != nil {
		t.Fatal(err)
	}
	aead, err := beaconSeal(w.key, w.staff)
	if err != nil {
		t.Fatal(err)
	}
	nonce := packet[:chacha20poly1305.NonceSizeX]
	plain, err := aead.Open(nil, nonce, packet[len(nonce):], nil)
	if err != nil {
		t.Fatal(err)
	}
	plain[33]++ // another port
	forged := aead.Seal(bytes.Clone(nonce), nonce, plain, nil)
	if _, ok := openBeacon(w.staff, [][32]byte{w.key}, forged); ok {
		t.Error("a changed port passes under the old signature")
	}
}

// Two beacons of one laptop have no four bytes in a row in common, and no
// byte has a value that it always takes.
func TestBeaconsLookRandom(t *testing.T) {
	w := newWorld(t)
	a := w.laptop(t)
	var packets [][]byte
	for range 64 {
		p, err := sealBeacon(a.config, w.key, DefaultPort, beaconPlace)
		if err != nil {
			t.Fatal(err)
		}
		if len(p) != beaconSize {
			t.Fatalf("%d bytes, want %d", len(p), beaconSize)
		}
		packets = append(packets, p)
	}
	for i := range beaconSize {
		same := true
		for _, p := range packets {
			same = same && p[i] == packets[0][i]
		}
		if same {
			t.Errorf("byte %d is the same in all", i)
		}
	}
	for i := range beaconSize - 4 {
		if bytes.Contains(packets[1], packets[0][i:i+4]) {
			t.Errorf("bytes %d to %d stand in two beacons", i, i+4)
		}
	}
}

func TestBroadcastAddresses(t *testing.T) {
	for in, want := range map[string]string{
		"192.0.2.7/24":    "192.0.2.255",
		"198.51.100.9/29": "198.51.100.15",
		"127.0.0.1/8":     "127.255.255.255",
		"10.1.2.3/9":      "10.127.255.255",
	} {
		if got, ok := broadcast(netip.MustParsePrefix(in)); !ok || got.String() != want {
			t.Errorf("%s: %s, want %s", in, got, want)
		}
	}
	for _, in := range []string{"192.0.2.7/31", "192.0.2.7/32", "2001:db8::1/64"} {
		if got, ok := broadcast(netip.MustParsePrefix(in)); ok {
			t.Errorf("%s has the broadcast address %s", in, got)
		}
	}
}

// A packet makes nobody dial unless it comes from where it says, on a network
// of this laptop's own.
func TestWhichSightingsCount(t *testing.T) {
	a := newWorld(t).laptop(t).start(t)
	here, away := netip.MustParseAddr("127.0.0.2"), netip.MustParseAddr("203.0.113.200")
	local, other := netip.MustParseAddr("fe80::7"), netip.MustParseAddr("fe80::8")
	for _, tt := range []struct {
		name    string
		from    netip.Addr
		says    []netip.Addr
		counted bool
	}{
		{"from where it says", here, []netip.Addr{away, here}, true},
		{"from elsewhere", here, []netip.Addr{away}, false},
		{"from a network that isn't here", away, []netip.Addr{away}, false},
		{"on a link, from where it says", local.WithZone("eth0"), []netip.Addr{local}, true},
		{"on a link, from elsewhere", local.WithZone("eth0"), []netip.Addr{other}, false},
		{"from no link", local, []netip.Addr{local}, false},
		{"from an IPv6 network that isn't here", netip.MustParseAddr("2001:db8::7"), []netip.Addr{netip.MustParseAddr("2001:db8::7")}, false},
	} {
		a.sighted(sighting{Device: highID, Port: 9, Addresses: tt.says}, tt.from)
		address := netip.AddrPortFrom(tt.from, 9).String()
		a.plan.mu.Lock()
		_, counted := a.plan.places[address]
		delete(a.plan.places, address)
		a.plan.mu.Unlock()
		if counted != tt.counted {
			t.Errorf("%s: counted %t, want %t", tt.name, counted, tt.counted)
		}
	}
}

// Three laptops on one machine find each other on the loopback network.
func TestThreeFindEachOther(t *testing.T) {
	w := newWorld(t)
	port := freeUDP(t)
	var all []*laptop
	for range 3 {
		l := w.laptop(t)
		l.config.Beacon, l.config.BeaconPort = true, port
		all = append(all, l.start(t))
	}
	for _, l := range all {
		met := map[string]bool{}
		for range 2 {
			met[next(t, l.linked).Peer().Device.String()] = true
		}
		if len(met) != 2 {
			t.Errorf("%s linked to %v", l.id, met)
		}
	}
}

func freeUDP(t *testing.T) int {
	t.Helper()
	conn, err := net.ListenPacket("udp4", ":0")
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	return conn.LocalAddr().(*net.UDPAddr).Port
}

// What a linked laptop says again isn't looked at; that it is elsewhere is, and
// all of it once the link is over.
func TestALinkedLaptopIsHeardWhenItHasNews(t *testing.T) {
	a, b, ab, _ := couple(t)
	here := netip.MustParseAddrPort("127.0.0.1:9")
	moved := netip.MustParseAddrPort("127.0.0.2:9")
	packet, err := sealBeacon(b.config, b.world.key, 4711, []netip.Addr{here.Addr(), moved.Addr()})
	if err != nil {
		t.Fatal(err)
	}
	heard := func(what string, from netip.AddrPort, want bool) {
		t.Helper()
		s, ok := a.open(packet, from)
		if ok != want {
			t.Errorf("%s: heard %t, want %t", what, ok, want)
		}
		if ok {
			a.sighted(s, from.Addr())
		}
	}
	heard("the first one", here, true)
	heard("another one", here, false)
	heard("from elsewhere", moved, true)
	heard("from there again", moved, false)
	ab.Close("to see what follows")
	next(t, a.unlinked)
	heard("without a link", here, true)
}
