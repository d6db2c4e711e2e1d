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
	bar         *progressbar.ProgressBar
	done, total int64 // total 0 while it isn't known
	timer       *time.Timer
	stopped     bool
}

// progress starts to wait. Stop it in any case.
func (a *app) progress(what string) *progress {
	p := &progress{}
	if !isTerminal(a.err) {
		return p
	}
	p.timer = time.AfterFunc(time.Second, func() {
		p.mu.Lock()
		defer p.mu.Unlock()
		if p.stopped {
			return
		}
		total := p.total
		if total == 0 {
			total = -1 // a spinner
		}
		p.bar = progressbar.NewOptions64(total, progressbar.OptionSetWriter(a.err), progressbar.OptionSetDescription(what),
			progressbar.OptionClearOnFinish(), progressbar.OptionSetPredictTime(total > 0), progressbar.OptionSetWidth(30))
		p.draw()
	})
	return p
}

// set says how much is done.
func (p *progress) set(done, total uint32) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.done, p.total = int64(done), int64(total)
	p.draw()
}

// draw leaves errors alone: a terminal that can't show the bar does no harm.
func (p *progress) draw() {
	if p.bar == nil {
		return
	}
	if p.total > 0 && p.bar.GetMax64() != p.total {
		p.bar.ChangeMax64(p.total)
	}
	_ = p.bar.Set64(p.done)
}

// stop takes the bar off the screen.
func (p *progress) stop() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.stopped = true
	if p.timer != nil {
		p.timer.Stop()
	}
	if p.bar != nil {
		_ = p.bar.Exit()
		_ = p.bar.Clear()
		p.bar = nil
	}
}
