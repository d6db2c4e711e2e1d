package sim

import (
	"context"
	"errors"
	"slices"

	"plumbline/node"
)

// process is a laptop that runs.
type process struct {
	core  *node.Core
	own   *node.OwnLogs
	store Store
	again bool // something is to be tried again
}

var errNoStanding = errors.New("no certificate admits this laptop")

// start opens what lies on the disk and continues its logs where the token
// allows it.
func (l *Laptop) start() {
	if l.up != nil || l.gone || l.w.failure != nil {
		return
	}
	l.disk.Faults().failing = 0
	unsure := l.w.written.put(l.unsure)
	l.unsure = nil
	store, err := l.disk.Open(l.w.staff)
	if err != nil {
		l.w.fail("%s doesn't open its ledger: %v", l, err)
		return
	}
	watched := &watched{Store: store, l: l}
	l.up = &process{store: watched}
	l.up.own = &node.OwnLogs{Staff: l.w.staff, Key: l.key, Random: l.random, Certificate: func() ([]byte, error) {
		if best, _, ok := l.best(); ok {
			return best, nil
		}
		return nil, errNoStanding
	}}
	if n := len(unsure); n > 0 && !store.Holds(unsure[n-1].ID.Log, unsure[n-1].Point) {
		l.w.written.remove(unsure)
	}
	l.reopened()
	l.guarded(func() {
		if err := node.TakeToken(background, watched, l.outside, l.up.own); err != nil && !injected(err) {
			l.w.fail("%s takes its token: %v", l, err)
		}
		if len(l.up.own.Tips()) > 0 {
			l.w.count.add("log continued")
		}
		l.up.core = node.NewCore(watched, l.up.own, l.ring)
	})
	l.step(node.Tend{})
	l.w.say("%s (device %.4s) runs, holding %d", l, l.device(), len(l.held))
}

// guarded runs what may end in the middle of a write.
func (l *Laptop) guarded(do func()) {
	defer func() {
		switch cause := recover(); cause.(type) {
		case nil:
		case died:
			l.w.say("%s loses power", l)
			l.die()
		default:
			panic(cause)
		}
	}()
	do()
}

// die ends the process without a word.
func (l *Laptop) die() {
	l.w.must(l.disk.Die(newDice(l.w.step.Roll, 4)))
	l.ended()
}

func (l *Laptop) ended() {
	l.up = nil
	l.w.hangUp(l)
}

// close ends the process in good order.
func (l *Laptop) close() {
	if l.up == nil {
		return
	}
	l.guarded(func() {
		if err := node.LeaveToken(background, l.up.store, l.outside, l.up.own); err != nil && !injected(err) {
			l.w.fail("%s leaves its token: %v", l, err)
		}
		l.w.must(l.up.store.Close())
		l.ended()
		l.w.count.add("clean restart")
	})
}

// step lets the core take events and carries out what it asks for.
func (l *Laptop) step(events ...node.Event) (saved node.Saved) {
	if l.up == nil || l.w.failure != nil {
		return node.Saved{Err: errors.New("the laptop isn't running")}
	}
	saved.Err = errors.New("the laptop lost its power")
	l.guarded(func() {
		for _, action := range l.up.core.Step(background, l.now(), events...) {
			switch a := action.(type) {
			case node.Send:
				l.w.send(l, a)
			case node.Drop:
				l.w.drop(l, a)
			case node.Saved:
				saved = a
				l.acknowledged(a)
			case node.Failed:
				l.up.again = true
				l.w.say("%s puts off: %v", l, a.Err)
				if !injected(a.Err) {
					l.w.fail("%s fails: %v", l, a.Err)
				}
			case node.Grown:
				if a.Outcome.Control {
					l.w.later = append(l.w.later, func() { l.w.rejudge(l) })
				}
			}
		}
	})
	return saved
}

// tryAgain lets time pass for laptops that couldn't do something. It reports whether
// there was one.
func (w *World) tryAgain() (any bool) {
	for _, l := range w.laptops {
		if l.up != nil && l.up.again {
			l.up.again, any = false, true
			w.count.add("tried again later")
			l.step(node.Tend{})
			w.settle()
		}
	}
	return any
}

// acknowledged holds the laptop to what it has told its person.
func (l *Laptop) acknowledged(a node.Saved) {
	if a.Err != nil {
		return
	}
	for _, id := range a.IDs {
		f := l.w.fact(id)
		if f == nil || !l.held[f] {
			l.w.fail("%s acknowledged %s, which isn't stored", l, id)
			continue
		}
		l.promised[f] = true
	}
}

// injected reports whether an error is one of the simulator's making.
func injected(err error) bool {
	return errors.Is(err, context.Canceled) || slices.ContainsFunc(diskErrors, func(is error) bool { return errors.Is(err, is) })
}
