//go:build netns

package main

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// Every frame on the bridge while two machines with names of their own pair
// across it, find each other by beacon, link, sync, and do so again after a
// restart: no name of staff, person, laptop or machine, no id and no key stands
// in any of them, and no two beacons have anything in common.
func TestNetnsCapture(t *testing.T) {
	l := newLAN(t)
	frames := l.listen()
	mara, tobin := newNotebook(t, "maras-laptop", "Mara Quill"), newNotebook(t, "tobins-laptop", "Tobin Ash")
	for i, n := range []*notebook{mara, tobin} {
		l.plug(n, byte(i+1))
		// A machine with a name of its own, which becomes the laptop's.
		n.inside = append(n.inside, "unshare", "--uts", "sh", "-c", `hostname "$0-machine" && exec "$@"`, n.person[:4])
	}
	mara.do("init", "--staff", "Harrow County", "--person", mara.person, "--root-file", filepath.Join(t.TempDir(), "root"))
	mara.runIt()
	pairUp(t, mara, tobin)
	tobin.runIt()
	for range 2 {
		allLinked(t, 1, mara, tobin)
		edits([]*notebook{mara, tobin}, "Orrin Vale")
		alike(t, mara, tobin)
		<-time.After(7 * time.Second) // more beacons
		for _, n := range []*notebook{mara, tobin} {
			n.stop()
			n.runIt()
		}
	}
	var status struct {
		Staff, Device string
		Name          string `json:"device_name"`
	}
	tobin.read(&status, "status")
	var identity struct {
		Root []byte   `json:"root_public_key"`
		ID   []byte   `json:"id_key"`
		Keys [][]byte `json:"link_keys"`
	}
	kept, err := os.ReadFile(filepath.Join(tobin.state, "identity.json"))
	if err := errors.Join(err, json.Unmarshal(kept, &identity)); err != nil || len(identity.Keys) == 0 {
		t.Fatalf("tobin's keys: %v", err)
	}
	wire, beacons := frames()
	if len(wire) < 20_000 || len(beacons) < 8 {
		t.Fatalf("only %d bytes and %d beacons were recorded", len(wire), len(beacons))
	}
	for what, secret := range map[string]string{
		"the staff's name": "Harrow County", "the director's name": "Mara Quill", "a scout's name": "Tobin Ash", "a prospect": "Orrin Vale",
		"a machine's name": "Tobi-machine", "the other machine's name": "Mara-machine", "the laptop's name": status.Name, "the program's name": "plumbline",
		"the staff's id": status.Staff, "the device's id": status.Device,
		"the root's key": string(identity.Root), "the id key": string(identity.ID), "a link key": string(identity.Keys[0]),
	} {
		if len(secret) < 8 || bytes.Contains(bytes.ToLower(wire), bytes.ToLower([]byte(secret))) {
			t.Errorf("%s, %q, is on the wire, or too short to be looked for", what, secret)
		}
	}
	for i, a := range beacons {
		for _, b := range beacons[:i] {
			// Six bytes in a row agree by chance once in 10^10 of such pairs.
			if common := longestShared(a, b, 6); common != nil {
				t.Errorf("two beacons have %x in common:\n%x\n%x", common, a, b)
			}
		}
	}
	t.Logf("%d bytes and %d different beacons recorded", len(wire), len(beacons))
}

func longestShared(a, b []byte, n int) []byte {
	for i := range len(a) - n {
		if bytes.Contains(b, a[i:i+n]) {
			return a[i : i+n]
		}
	}
	return nil
}

// listen records all that crosses the bridge from now on. The function that it
// returns gives the payloads, those of a TCP stream one behind the other, and
// the beacons among them.
func (l *lan) listen() func() (wire []byte, beacons [][]byte) {
	l.t.Helper()
	opened := make(chan int, 1)
	go func() {
		runtime.LockOSThread() // the thread ends with the goroutine, in that namespace
		fd, err := rawSocket(l.space)
		if err != nil {
			l.t.Errorf("a raw socket: %v", err)
		}
		opened <- fd
	}()
	fd := <-opened
	if fd < 0 {
		l.t.FailNow()
	}
	l.t.Cleanup(func() { unix.Close(fd) })
	return func() ([]byte, [][]byte) {
		streams, beacons := map[string][]byte{}, [][]byte{}
		seen := map[string]bool{}
		frame := make([]byte, 1<<16)
		for {
			n, from, err := unix.Recvfrom(fd, frame, unix.MSG_DONTWAIT)
			if err != nil {
				break
			}
			if at, ok := from.(*unix.SockaddrLinklayer); ok && at.Pkttype == unix.PACKET_OUTGOING {
				continue // it was seen as it came in
			}
			stream, payload := payloadOf(frame[:n])
			if stream == "udp" && !seen[string(payload)] {
				beacons = append(beacons, bytes.Clone(payload))
				seen[string(payload)] = true
			}
			streams[stream] = append(streams[stream], payload...)
		}
		var wire []byte
		for _, s := range streams {
			wire = append(wire, s...)
		}
		return wire, beacons
	}
}

func rawSocket(space string) (int, error) {
	into, err := os.Open("/run/netns/" + space)
	if err != nil {
		return -1, err
	}
	defer into.Close()
	if err := unix.Setns(int(into.Fd()), unix.CLONE_NEWNET); err != nil {
		return -1, fmt.Errorf("setns: %w", err)
	}
	// Every protocol, in network byte order (packet(7)).
	fd, err := unix.Socket(unix.AF_PACKET, unix.SOCK_RAW, int(binary.BigEndian.Uint16([]byte{unix.ETH_P_ALL, 0})))
	if err != nil {
		return -1, err
	}
	return fd, unix.SetsockoptInt(fd, unix.SOL_SOCKET, unix.SO_RCVBUFFORCE, 256<<20)
}

// payloadOf takes a frame apart: Ethernet (14 bytes), IPv4 (RFC 791), TCP (RFC
// 9293) or UDP (RFC 768). Of anything else the whole frame is the payload, so
// that names in it are found as well.
func payloadOf(frame []byte) (stream string, payload []byte) {
	if len(frame) < 42 || binary.BigEndian.Uint16(frame[12:]) != 0x0800 {
		return "other", frame
	}
	ip := frame[14:]
	ip = ip[:min(len(ip), int(binary.BigEndian.Uint16(ip[2:])))]
	header := int(ip[0]&15) * 4
	above := ip[header:]
	switch {
	case ip[9] == 17 && len(above) >= 8:
		return "udp", above[8:]
	case ip[9] == 6 && len(above) >= 20 && len(above) >= int(above[12]>>4)*4:
		return fmt.Sprintf("%x", append(bytes.Clone(ip[12:20]), above[:4]...)), above[int(above[12]>>4)*4:]
	}
	return "other", frame
}
