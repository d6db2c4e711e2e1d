package mesh

import (
	"fmt"
	"net"
	"time"
)

// How soon a dead connection is noticed. The end that dialled pings, the other
// one answers; whoever has heard nothing at all for quietTime ends the link. One
// goroutine sees to all links of a laptop, and pings over all at once: with thirty
// laptops on a network it is waking up that costs, not what is done then.
const (
	pingEvery = 2 * time.Second
	quietTime = 5 * time.Second
	// lateBy is how late this goroutine may be. Beyond it the machine slept, or was
	// too busy to hear anybody, and the others are given time anew.
	lateBy = time.Second
)

var errQuiet = fmt.Errorf("nothing has come from the other laptop for %v", quietTime)

// keep pings and listens until the mesh ends.
func (m *Mesh) keep() {
	ping := time.Now()
	for wake := ping; ; {
		now := time.Now()
		live := m.live()
		if now.Sub(wake) > lateBy {
			for _, l := range live {
				l.comes()
			}
		}
		if !now.Before(ping) {
			ping = now.Add(pingEvery)
			for _, l := range live {
				l.ping()
			}
		}
		wake = ping
		for _, l := range live {
			if until := l.last().Add(quietTime); !until.After(now) {
				l.fail(errQuiet)
			} else if until.Before(wake) {
				wake = until
			}
		}
		select {
		case <-m.ctx.Done():
			return
		case <-time.After(wake.Sub(now)):
		}
	}
}

// comes notes that the other side is there.
func (l *link) comes() { l.silent.Store(int64(time.Since(l.began))) }

// last is when something came.
func (l *link) last() time.Time { return l.began.Add(time.Duration(l.silent.Load())) }

// ping asks for an answer, if this end dialled and no answer is awaited. What
// becomes of it doesn't matter: anything that comes is a sign of life.
func (l *link) ping() {
	if l.dialler != l.mesh.self || !l.pinging.CompareAndSwap(false, true) {
		return
	}
	go func() {
		defer l.pinging.Store(false)
		_ = l.client.FlushTimeout(quietTime)
	}()
}

// heeded is a connection from which all that comes is noted.
type heeded struct {
	net.Conn
	link *link
}

func (h heeded) Read(p []byte) (int, error) {
	n, err := h.Conn.Read(p)
	if n > 0 {
		h.link.comes()
	}
	return n, err
}
