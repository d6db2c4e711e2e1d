package mesh

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"runtime"
	"strings"
	"testing"
	"time"
)

// A member whose program speaks NATS as it likes, over a connection that was
// admitted like any other. The hub's other links, its memory and its account
// stay untouched.
func TestAHostileMemberSpeaksNATS(t *testing.T) {
	w := newWorld(t)
	hub := w.laptop(t).start(t)
	honest := w.laptop(t).start(t)
	if err := honest.Dial(context.Background(), hub.Address().String()); err != nil {
		t.Fatal(err)
	}
	toHub := next(t, honest.linked)
	next(t, hub.linked)
	theirs := hub.live()[0].to // the subjects of the honest one's link, as if they were known

	var before runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	for name, say := range map[string]func(mine subjects) string{
		"a reply aimed at another peer": func(mine subjects) string {
			return fmt.Sprintf("PUB %s %s 1\r\nx\r\n", mine.out, theirs.out)
		},
		"a message on another peer's subject": func(subjects) string { return fmt.Sprintf("PUB %s 1\r\nx\r\n", theirs.out) },
		"a subscription to another peer":      func(subjects) string { return fmt.Sprintf("SUB %s 9\r\n", theirs.in) },
		"a subscription to everything":        func(subjects) string { return "SUB > 9\r\n" },
		"a gigabyte announced":                func(mine subjects) string { return fmt.Sprintf("PUB %s 1073741824\r\nx", mine.out) },
		"a gigabyte of headers announced": func(mine subjects) string {
			return fmt.Sprintf("HPUB %s 1073741823 1073741824\r\nNATS/1.0\r\n", mine.out)
		},
		"more than a number holds": func(mine subjects) string { return fmt.Sprintf("PUB %s 99999999999999999999\r\n", mine.out) },
		"a line without end":       func(subjects) string { return "PUB " + strings.Repeat("a", 8<<20) },
		"subscriptions without end": func(mine subjects) string {
			var b strings.Builder
			for i := range 100_000 {
				fmt.Fprintf(&b, "SUB %s %d\r\n", mine.in, i+10)
			}
			return b.String()
		},
		"a connection of its own": func(subjects) string { return "CONNECT {\"auth_token\":\"\",\"verbose\":true}\r\n" },
		"no NATS at all":          func(subjects) string { return strings.Repeat("\x00\xffGET / HTTP/1.1\r\n", 100_000) },
	} {
		t.Run(name, func(t *testing.T) {
			conn, mine := seated(t, hub)
			conn.SetWriteDeadline(time.Now().Add(10 * time.Second))
			io.WriteString(conn, say(mine)) // may fail: the hub hangs up when it likes
			if err := toHub.Send(context.Background(), []byte(name)); err != nil {
				t.Fatal(err)
			}
			for {
				got := next(t, hub.received)
				if got.from == honest.id {
					if string(got.data) != name {
						t.Errorf("the honest laptop's message came as %q", got.data)
					}
					break
				}
			}
			if len(honest.received) != 0 {
				t.Errorf("the honest laptop heard %q", next(t, honest.received).data)
			}
			conn.Close()
		})
	}
	var after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&after)
	grown := int64(after.HeapInuse) - int64(before.HeapInuse)
	t.Logf("heap grown by %d KiB", grown>>10)
	if grown > 64<<20 {
		t.Errorf("the heap has grown by %d MiB", grown>>20)
	}
	if toHub.(*link).ctx.Err() != nil {
		t.Error("the honest laptop's link has ended")
	}
}

// seated is a new member's connection with its place in the hub's message
// server taken by hand: from here on it says what the test wants.
func seated(t *testing.T, hub *laptop) (net.Conn, subjects) {
	t.Helper()
	talk, _ := talkTo(t, hub, hub.world.laptop(t), dialTLS())
	if err := errors.Join(talk.call(hub.world.key), talk.settle()); err != nil {
		t.Fatal(err)
	}
	var data [seatSize]byte
	if _, err := io.ReadFull(talk.conn, data[:]); err != nil {
		t.Fatal(err)
	}
	talk.raw.lift()
	talk.raw.SetDeadline(time.Time{})
	s := seatOf(data[:])
	mine := s.subjects(dialing)
	if _, err := fmt.Fprintf(talk.conn, "CONNECT {\"auth_token\":%q}\r\nSUB %s 1\r\nPUB %s 8\r\n\x00\x00\x00\x00\x00\x00\x00\x00\r\nPING\r\n", s.token, mine.in, mine.outHandled); err != nil {
		t.Fatal(err)
	}
	next(t, hub.linked)
	return talk.conn, mine
}
