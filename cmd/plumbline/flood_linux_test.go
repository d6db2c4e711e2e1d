package main

import (
	"context"
	"crypto/rand"
	"crypto/tls"
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
)

// A node under siege by everybody on its network: a thousand connections that
// show nothing or garbage, from as many addresses as they like, frames of every
// wrong size, ten thousand forged beacons. It stays small and nearly idle, and
// its peers sync with it meanwhile, those that were linked and those that come.
func TestUnderSiege(t *testing.T) {
	mara, tobin, ira := newStaff(t)
	beacons := freePort(t)
	mara.start("--beacon-port", strconv.Itoa(beacons))
	tobin.start()
	ira.start()
	linkUp(t, tobin, mara)
	alike(t, mara, tobin)
	before := takenBy(t, mara)

	ctx, cancel := context.WithCancel(t.Context())
	var siege sync.WaitGroup
	for i := range 1000 {
		siege.Go(func() { besiege(ctx, i, mara.address()) })
	}
	siege.Go(func() { forgeBeacons(ctx, beacons, 10_000, 12*time.Second) })
	for i := range 5 {
		tobin.do("add", "prospect", fmt.Sprintf("name=Under siege %d", i))
		alike(t, mara, tobin)
	}
	linkUp(t, ira, mara)
	alike(t, mara, tobin, ira)
	quiet := takenBy(t, mara) // from here on nothing but the siege
	<-time.After(10 * time.Second)
	during := takenBy(t, mara)
	mara.do("add", "prospect", "name=Still here")
	alike(t, mara, tobin, ira)
	cancel()
	siege.Wait()

	grown := during.memory - before.memory
	share := float64(during.cpu-quiet.cpu) / float64(during.at.Sub(quiet.at)) * 100
	t.Logf("anonymous memory grew by %d KiB to %d KiB, %.1f %% of a core over %v",
		grown>>10, during.memory>>10, share, during.at.Sub(quiet.at).Round(time.Second))
	if grown > 64<<20 {
		t.Errorf("anonymous memory grew by %d MiB", grown>>20)
	}
	// Loose, as machines differ: it is a few percent on two shared cores.
	if share > 50 {
		t.Errorf("the node took %.0f %% of a core", share)
	}
}

// besiege keeps one connection to an address open, from an address of its own,
// and says something else each time.
func besiege(ctx context.Context, i int, address string) {
	d := net.Dialer{LocalAddr: &net.TCPAddr{IP: net.IPv4(127, byte(1+i/250), byte(i%250), 1)}}
	for round := i; ctx.Err() == nil; round++ {
		if conn, err := d.DialContext(ctx, "tcp4", address); err == nil {
			stop := context.AfterFunc(ctx, func() { conn.Close() })
			pester(conn, round)
			stop()
			conn.Close()
		}
		select {
		case <-ctx.Done():
		case <-time.After(3 * time.Second):
		}
	}
}

// pester says what no laptop would, and listens until it is hung up on.
func pester(conn net.Conn, way int) {
	noise := make([]byte, 64<<10)
	rand.Read(noise)
	switch way % 5 {
	case 0: // says nothing
	case 1:
		conn.Write(noise)
	case 2: // the start of a TLS record that says to be the longest (RFC 8446, 5.1)
		conn.Write([]byte{22, 3, 1, 0x40, 0})
	case 3: // a hello of 16 MiB (RFC 8446, 4)
		conn.Write(append([]byte{22, 3, 1, 0x40, 0, 1, 0xff, 0xff, 0xff}, noise...))
	case 4: // a session, and then frames of every size
		secured := tls.Client(conn, &tls.Config{MinVersion: tls.VersionTLS13, InsecureSkipVerify: true})
		if secured.Handshake() == nil {
			secured.Write(append([]byte{0xff, 0xff, 0xff, 0xff}, noise...))
		}
	}
	io.Copy(io.Discard, conn)
}

// forgeBeacons sends packets of a beacon's size, and some of other sizes, over a
// span of time.
func forgeBeacons(ctx context.Context, port, count int, over time.Duration) {
	conn, err := net.Dial("udp4", net.JoinHostPort("127.0.0.1", strconv.Itoa(port)))
	if err != nil {
		return
	}
	defer conn.Close()
	tick := time.NewTicker(over / time.Duration(count/100))
	defer tick.Stop()
	for sent := 0; sent < count; {
		for range 100 {
			packet := make([]byte, 152)
			rand.Read(packet)
			if sent%10 == 0 {
				packet = append(packet, packet...)
			}
			conn.Write(packet)
			sent++
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// taken is what a process has taken of the machine.
type taken struct {
	memory int64         // anonymous and resident, in bytes
	cpu    time.Duration // of all its threads
	at     time.Time
}

func takenBy(t *testing.T, n *notebook) taken {
	t.Helper()
	u := taken{at: time.Now()}
	folder := filepath.Join("/proc", strconv.Itoa(n.node.Process.Pid))
	status, err := os.ReadFile(filepath.Join(folder, "status"))
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(status)) {
		if size, ok := strings.CutPrefix(line, "RssAnon:"); ok {
			fmt.Sscan(size, &u.memory)
			u.memory <<= 10
		}
	}
	stat, err := os.ReadFile(filepath.Join(folder, "stat"))
	if err != nil || u.memory == 0 {
		t.Fatalf("%s: %v, no memory told: %s", folder, err, status)
	}
	// Fields 14 and 15 of proc(5), in hundredths of a second; the second field may
	// hold spaces and ends with a parenthesis.
	fields := strings.Fields(string(stat[strings.LastIndexByte(string(stat), ')')+1:]))
	for _, field := range fields[11:13] {
		ticks, err := strconv.ParseInt(field, 10, 64)
		if err != nil {
			t.Fatal(err)
		}
		u.cpu += time.Duration(ticks) * 10 * time.Millisecond
	}
	return u
}
