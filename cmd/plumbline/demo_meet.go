package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	v1 "plumbline/proto/plumbline/v1"
)

// meet switches the laptops on in one network and watches what comes over.
func (t *trial) meet(ctx context.Context) error {
	t.heading("Together on one network")
	if err := t.each(func(l *demoLaptop) error { return l.stop() }); err != nil {
		return err
	}
	if err := t.showAlone(ctx); err != nil {
		return err
	}
	t.say("The three programs are started; each finds the others.")
	began := time.Now()
	if err := t.each(func(l *demoLaptop) error { return l.switchOn(ctx) }); err != nil {
		return err
	}
	if err := t.listen(ctx); err != nil {
		return err
	}
	if _, err := t.agree(ctx, ""); err != nil {
		return err
	}
	took := time.Since(began)
	t.report.LinkedSeconds = took.Seconds()
	err := t.each(func(l *demoLaptop) error {
		held, err := l.count(ctx)
		t.report.Laptops[l.index].After = held
		return err
	})
	if err != nil {
		return err
	}
	t.say("After %s, starting them included, all three hold the same.", spell(took))
	t.tell(func() [][]string { return t.holdings(func(l laptopReport) holding { return l.After }) })
	return t.account()
}

// showAlone lets the reader open the director's page while the others are off, to see
// there how everything arrives.
func (t *trial) showAlone(ctx context.Context) error {
	if !t.stops {
		return nil
	}
	director := t.laptops[0]
	if err := director.switchOn(ctx); err != nil {
		return err
	}
	t.say("Only %s is switched on yet. Its page, whose address works once, shows what it holds alone:", director.person.Laptop)
	if err := t.pages(ctx, director); err != nil {
		return err
	}
	return t.stop(ctx, "Open it and keep it in sight; Enter switches the others on.")
}

// account shows that nothing is missing: what all had, and what each wrote apart,
// is what everybody holds.
func (t *trial) account() error {
	sum, apart := t.report.Common, make([]string, len(t.laptops))
	for i, l := range t.report.Laptops {
		sum += l.Before.Entries - t.report.Common
		apart[i] = fmt.Sprint(l.Before.Entries - t.report.Common)
		t.say("%-12s had %d entries, %d came over", l.Device, l.Before.Entries, l.After.Entries-l.Before.Entries)
	}
	for i, l := range t.report.Laptops {
		if l.After.Entries < sum {
			return t.laptops[i].why(fmt.Errorf("it holds %d entries of %d: this is a mistake in the program", l.After.Entries, sum))
		}
	}
	t.say("Nothing is missing: %d entries from the office and %s written apart are %d.", t.report.Common, strings.Join(apart, " + "), sum)
	return nil
}

// heldNow is what a laptop reports to those who watch it.
type heldNow struct {
	entries uint32
	hash    string
}

// audience watches all laptops.
type audience struct {
	cancel context.CancelFunc
	gone   sync.WaitGroup

	mu      sync.Mutex
	at      []heldNow
	err     error
	changed chan struct{}
}

// listen begins to watch. Close the audience before the laptops are stopped.
func (t *trial) listen(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	a := &audience{cancel: cancel, at: make([]heldNow, len(t.laptops)), changed: make(chan struct{}, 1)}
	t.audience = a
	for i, l := range t.laptops {
		stream, err := l.client.Ledger.Watch(ctx, &v1.WatchRequest{})
		if err != nil {
			return l.why(err)
		}
		a.gone.Go(func() {
			defer stream.Close()
			for stream.Receive() {
				a.note(i, heldNow{stream.Msg().GetEntries(), stream.Msg().GetStateHash()}, nil)
			}
			if ctx.Err() == nil {
				a.note(i, heldNow{}, l.why(errors.Join(errors.New("it says nothing more"), stream.Err())))
			}
		})
	}
	return nil
}

func (a *audience) note(laptop int, at heldNow, err error) {
	a.mu.Lock()
	a.at[laptop], a.err = at, errors.Join(a.err, err)
	a.mu.Unlock()
	select {
	case a.changed <- struct{}{}:
	default:
	}
}

func (a *audience) see() ([]heldNow, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	return slices.Clone(a.at), a.err
}

func (a *audience) close() {
	if a != nil {
		a.cancel()
		a.gone.Wait()
	}
}

const (
	// agreePatience is far more than three laptops on one machine need.
	agreePatience = time.Minute
	// nudgeAfter is when the laptops are told each other's addresses: where a
	// machine carries no broadcast to itself they can't find each other.
	nudgeAfter = 3 * time.Second
)

// agree waits until all laptops hold the same, and hold a state if one is named.
func (t *trial) agree(ctx context.Context, state string) (heldNow, error) {
	ctx, cancel := context.WithTimeoutCause(ctx, agreePatience, fmt.Errorf("the laptops don't hold the same after %s", agreePatience))
	defer cancel()
	defer t.live(nil)
	nudge := time.After(nudgeAfter)
	for {
		at, err := t.audience.see()
		if err != nil {
			return heldNow{}, err
		}
		t.live(at)
		if same(at) && (state == "" || at[0].hash == state) {
			return at[0], nil
		}
		select {
		case <-t.audience.changed:
		case <-nudge:
			t.nudge(ctx)
		case <-ctx.Done():
			return heldNow{}, context.Cause(ctx)
		}
	}
}

func same(at []heldNow) bool {
	return at[0].hash != "" && !slices.ContainsFunc(at, func(s heldNow) bool { return s != at[0] })
}

// nudge tells laptops where the others are. Who is linked already takes no harm,
// and who can't be reached shows in what they hold.
func (t *trial) nudge(ctx context.Context) {
	for i, l := range t.laptops {
		for _, other := range t.laptops[i+1:] {
			_, _ = l.client.Node.Connect(ctx, &v1.ConnectRequest{Address: fmt.Sprintf("127.0.0.1:%d", other.linkPort)})
		}
	}
}

// live shows how far the laptops are, on a terminal, in one line that goes away.
func (t *trial) live(at []heldNow) {
	if t.json || !isTerminal(t.out) {
		return
	}
	var parts []string
	for i, s := range at {
		parts = append(parts, fmt.Sprintf("%s %5d", t.laptops[i].person.Laptop, s.entries))
	}
	fmt.Fprintf(t.out, "\r\x1b[K%s%s", margin, strings.Join(parts, "   "))
	if at == nil {
		fmt.Fprint(t.out, "\r\x1b[K")
	}
}
