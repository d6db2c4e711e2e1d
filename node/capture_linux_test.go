package node

import (
	"bytes"
	"context"
	"errors"
	"io"
	"net"
	"os"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Everything that two laptops say to each other, from the first pairing on, as
// somebody in between records it: no name of staff, person, laptop, machine or
// prospect, no identifier and no key stands in it, and beacons of two times have
// nothing in common.
func TestTheWireNamesNobody(t *testing.T) {
	tap := newTap(t)
	a := found(t)
	a.listenOn(tap.beacons)
	b := newLaptop(t, "Tove Lund")
	b.cfg.Links = a.cfg.Links
	b.restart()
	through := func(address string) string { return tap.relay(loopback([]string{address})) }
	pairAt(t, a, b, "Tove Lund", false, through)
	require.NoError(t, b.Connect(t.Context(), through(a.mesh.Address().String())))
	a.add("prospect", "name", "Orrin Vale", "school", "Salt Lick")
	b.add("prospect", "name", "Wes Tarn")
	agree(t, a, b)
	first := tap.beaconsHeard(t, 5)
	for _, l := range []*laptop{a, b} {
		l.restart()
	}
	require.NoError(t, b.Connect(t.Context(), through(a.mesh.Address().String())))
	agree(t, a, b)
	second := tap.beaconsHeard(t, 5)

	host, err := os.Hostname()
	require.NoError(t, err)
	staff, device := a.store.Staff(), b.public()
	secrets := map[string]string{
		"the staff's name": "Harbor Point", "a person's name": "Tove Lund", "the director's name": a.name,
		"a laptop's name": "Tove Lund's laptop", "the machine's name": host, "a prospect": "Orrin Vale", "a school": "Salt Lick",
		"the program's name": "plumbline", "the staff's id": string(staff[:]), "the staff's id in letters": staff.String(),
		"a device's key": string(device), "the root's key": string(b.id().Root), "the id key": string(b.id().IDKey), "the link key": string(b.id().LinkKeys[0]),
	}
	a.stopNow()
	b.stopNow()
	recorded := tap.all()
	require.Greater(t, len(recorded), 4000, "too little was recorded to show anything")
	for what, secret := range secrets {
		if len(secret) < 5 {
			continue // a machine's name so short that it may stand anywhere by chance
		}
		require.False(t, bytes.Contains(bytes.ToLower(recorded), bytes.ToLower([]byte(secret))), "%s is on the wire", what)
	}
	for _, x := range first {
		for _, y := range second {
			// In 25 pairs of 152 random bytes five bytes in a row agree once in a million runs.
			require.False(t, haveInCommon(x, y, 5), "two beacons can be linked:\n%x\n%x", x, y)
		}
	}
}

func haveInCommon(a, b []byte, n int) bool {
	for i := range len(a) - n {
		if bytes.Contains(b, a[i:i+n]) {
			return true
		}
	}
	return false
}

// listenOn restarts a laptop with a beacon on a port.
func (l *laptop) listenOn(beacons int) {
	l.t.Helper()
	l.cfg.Links = &Links{Host: "127.0.0.1", Port: -1, Beacon: true, BeaconPort: beacons}
	l.restart()
}

// tap records what passes: relays of streams, and beacons as anybody on the
// network hears them.
type tap struct {
	t       *testing.T
	beacons int // their port
	air     net.PacketConn

	streams sync.WaitGroup

	mu   sync.Mutex
	said []byte
}

func newTap(t *testing.T) *tap {
	t.Helper()
	lc := net.ListenConfig{Control: func(_, _ string, c syscall.RawConn) error {
		var failed error
		err := c.Control(func(fd uintptr) {
			failed = syscall.SetsockoptInt(int(fd), syscall.SOL_SOCKET, syscall.SO_REUSEADDR, 1)
		})
		return errors.Join(err, failed)
	}}
	air, err := lc.ListenPacket(context.Background(), "udp4", ":0")
	require.NoError(t, err)
	t.Cleanup(func() { air.Close() })
	return &tap{t: t, air: air, beacons: air.LocalAddr().(*net.UDPAddr).Port}
}

// relay returns an address that leads to another one, and is recorded both ways.
func (p *tap) relay(to string) string {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(p.t, err)
	p.t.Cleanup(func() { listener.Close() })
	go func() {
		for {
			near, err := listener.Accept()
			if err != nil {
				return
			}
			far, err := net.Dial("tcp", to)
			if err != nil {
				near.Close()
				continue
			}
			p.streams.Go(func() { p.carry(far, near) })
			p.streams.Go(func() { p.carry(near, far) })
		}
	}()
	return listener.Addr().String()
}

func (p *tap) carry(to, from net.Conn) {
	defer to.Close()
	// What was recorded of one stream stays together, so that a name that is cut
	// in two by the network is found.
	var said bytes.Buffer
	_, _ = io.Copy(io.MultiWriter(to, &said), from)
	p.record(said.Bytes())
}

func (p *tap) record(said []byte) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.said = append(p.said, said...)
}

// beaconsHeard waits for so many from now on.
func (p *tap) beaconsHeard(t *testing.T, count int) [][]byte {
	t.Helper()
	var heard [][]byte
	buf := make([]byte, 2048)
	require.NoError(t, p.air.SetReadDeadline(time.Now().Add(time.Minute)))
	for len(heard) < count {
		n, _, err := p.air.ReadFrom(buf)
		require.NoError(t, err)
		heard = append(heard, bytes.Clone(buf[:n]))
		p.record(buf[:n])
	}
	return heard
}

// all returns what was recorded, once the streams have ended.
func (p *tap) all() []byte {
	p.streams.Wait()
	p.mu.Lock()
	defer p.mu.Unlock()
	return bytes.Clone(p.said)
}
