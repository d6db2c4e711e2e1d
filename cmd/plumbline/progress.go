package main

import (
	"sync"
	"time"

	"github.com/schollz/progressbar/v3"
)

// progress shows on a terminal that something goes on, once it takes more than a
// second. Elsewhere it does nothing.
type progress struct {
	mu          sync.Mutex
	done, total int64 // total 0 while it isn't known
	stopped     chan struct{}
	gone        sync.WaitGroup
}

// progress starts to wait. Stop it in any case.
func (a *app) progress(what string) *progress {
	p := &progress{stopped: make(chan struct{})}
	if isTerminal(a.err) {
		p.gone.Go(func() { a.draw(p, what) })
	}
	return p
}

func (a *app) draw(p *progress, what string) {
	select {
	case <-p.stopped:
		return
	case <-time.After(time.Second):
	}
	_, total := p.standing()
	bar := progressbar.NewOptions64(total, progressbar.OptionSetWriter(a.err), progressbar.OptionSetDescription(what),
		progressbar.OptionSetPredictTime(total > 0), progressbar.OptionSetWidth(30), progressbar.OptionSetElapsedTime(true))
	tick := time.NewTicker(100 * time.Millisecond)
	defer tick.Stop()
	for {
		done, now := p.standing()
		// A terminal that can't show the bar does no harm: its errors are left alone.
		if now > 0 {
			bar.ChangeMax64(now)
			_ = bar.Set64(done)
		} else {
			_ = bar.Add(1) // turns the spinner
		}
		select {
		case <-p.stopped:
			_ = bar.Exit()
			_ = bar.Clear()
			return
		case <-tick.C:
		}
	}
}

// standing gives what is done of what; of -1 while it isn't known.
func (p *progress) standing() (done, total int64) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.total == 0 {
		return 0, -1
	}
	return p.done, p.total
}

// set says how much is done.
func (p *progress) set(done, total uint32) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.done, p.total = int64(done), int64(total)
}

// stop takes the bar off the screen.
func (p *progress) stop() {
	close(p.stopped)
	p.gone.Wait()
}
