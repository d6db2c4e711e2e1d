package mesh

import (
	"errors"
	"time"

	"golang.org/x/sync/semaphore"
)

const (
	// dialsAtOnce bounds how many addresses are tried at the same time.
	dialsAtOnce = 8
	// planEvery is how often the plan is looked at without a reason, while there is
	// anybody to dial.
	planEvery = 500 * time.Millisecond
	// rememberEvery is how often the remembered addresses are read. Beacons of
	// others wake the dialler, and in a large staff there are many.
	rememberEvery = 2 * time.Second
)

// dialOn follows the plan until the mesh ends.
func (m *Mesh) dialOn() {
	room := semaphore.NewWeighted(dialsAtOnce)
	for remembered := (time.Time{}); ; {
		if now := time.Now(); now.Sub(remembered) >= rememberEvery {
			m.plan.remember(m.cfg.Remembered(), now)
			remembered = now
		}
		due, done := m.plan.due(time.Now(), m.linked)
		for _, address := range due {
			if room.Acquire(m.ctx, 1) != nil {
				return
			}
			m.running.Go(func() {
				defer room.Release(1)
				m.try(address)
			})
		}
		wait := planEvery
		if done {
			wait = rememberEvery
		}
		select {
		case <-time.After(wait):
		case <-m.wake:
		case <-m.ctx.Done():
			return
		}
	}
}

func (m *Mesh) try(address string) {
	device, err := m.dial(m.ctx, address, false)
	m.plan.dialled(address, device, err, time.Now())
	if err != nil && !errors.Is(err, ErrLinked) && !errors.Is(err, ErrSelf) {
		m.cfg.Log.Debug("no link", "address", address, "error", err)
	}
}

// poke makes somebody who waits on the channel look again.
func poke(c chan<- struct{}) {
	select {
	case c <- struct{}{}:
	default: // one is on its way already
	}
}
