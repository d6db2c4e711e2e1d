//go:build netns

package main

import (
	"errors"
	"fmt"
	"os"
	"runtime"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// Two laptops at the two ends of a slow line: what one sends reaches the other
// 300 ms later, and the other way round. They find each other by beacon, link
// and sync.
func TestNetnsDelay(t *testing.T) {
	mara, tobin, _ := newStaff(t)
	both := []*notebook{mara, tobin}
	var ends []*os.File
	for i, n := range both {
		n.moveIn(t)
		ends = append(ends, tapIn(t, n.space()))
		sh(t, "ip", "-n", n.space(), "link", "set", "eth0", "up")
		n.address4(t, "add", byte(i+1))
	}
	const delay = 300 * time.Millisecond
	go delayed(ends[0], ends[1], delay)
	go delayed(ends[1], ends[0], delay)
	for _, n := range both {
		n.runIt()
	}
	t.Logf("linked %v after the start", allLinked(t, 1, both...))
	began := time.Now()
	mara.do("import", "prospect", manyRows(t), "--source", "North list")
	tobin.do("add", "prospect", "name=Far away")
	alike(t, both...)
	t.Logf("4,000 rows were there %v after the import began", time.Since(began).Round(10*time.Millisecond))
	<-time.After(15 * time.Second) // some pings on the slow line
	linked := allLinked(t, 1, both...)
	t.Logf("still linked (%v)", linked)
}

// tapIn makes an Ethernet device in a network namespace and returns the end
// through which its frames come and go.
func tapIn(t *testing.T, space string) *os.File {
	t.Helper()
	made := make(chan *os.File, 1)
	go func() {
		// The thread isn't given back: it ends with the goroutine, in that namespace.
		runtime.LockOSThread()
		file, err := openTap(space)
		if err != nil {
			t.Errorf("a device in %s: %v", space, err)
		}
		made <- file
	}()
	file := <-made
	if file == nil {
		t.FailNow()
	}
	t.Cleanup(func() { file.Close() })
	return file
}

func openTap(space string) (*os.File, error) {
	into, err := os.Open("/run/netns/" + space)
	if err != nil {
		return nil, err
	}
	defer into.Close()
	if err := unix.Setns(int(into.Fd()), unix.CLONE_NEWNET); err != nil {
		return nil, fmt.Errorf("setns: %w", err)
	}
	fd, err := unix.Open("/dev/net/tun", unix.O_RDWR|unix.O_CLOEXEC|unix.O_NONBLOCK, 0)
	if err != nil {
		return nil, err
	}
	request, err := unix.NewIfreq("eth0")
	if err != nil {
		return nil, errors.Join(err, unix.Close(fd))
	}
	request.SetUint16(unix.IFF_TAP | unix.IFF_NO_PI)
	if err := unix.IoctlIfreq(fd, unix.TUNSETIFF, request); err != nil {
		return nil, errors.Join(fmt.Errorf("TUNSETIFF: %w", err), unix.Close(fd))
	}
	return os.NewFile(uintptr(fd), "tap of "+strings.TrimPrefix(space, "/")), nil
}

// delayed carries frames from one end to the other, each a while later, in order.
func delayed(to, from *os.File, by time.Duration) {
	type frame struct {
		data []byte
		due  time.Time
	}
	line := make(chan frame, 1<<16)
	go func() {
		for f := range line {
			<-time.After(time.Until(f.due))
			if _, err := to.Write(f.data); errors.Is(err, os.ErrClosed) {
				return
			}
		}
	}()
	defer close(line)
	for {
		data := make([]byte, 2048)
		n, err := from.Read(data)
		if err != nil {
			return
		}
		line <- frame{data[:n], time.Now().Add(by)}
	}
}
