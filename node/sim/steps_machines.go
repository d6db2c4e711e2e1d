package sim

import (
	"errors"
	"time"

	"plumbline/storage"
	"plumbline/sync/merge/mergetest"
)

func (w *World) startOne(d *dice) {
	if l := w.someone(d, func(l *Laptop) bool { return l.up == nil && !l.gone }); l != nil {
		l.start()
	}
}

// momentsToClose is how many moments of writing a close of a database takes, up to
// the one when its log is brought over.
const momentsToClose = 5

// closeOne closes a laptop, mostly for a moment.
func (w *World) closeOne(d *dice) {
	if l := w.someone(d, running); l != nil {
		if _, real := l.disk.(*database); real && d.one(3) {
			l.disk.Faults().crash = momentsToClose
		}
		l.close()
		if !d.one(4) {
			l.start()
		}
	}
}

func (w *World) crash(d *dice) {
	if l := w.someone(d, running); l != nil {
		w.count.add("crash between steps")
		l.die()
	}
}

// crashSoon lets the power fail in one of the next moments of writing.
func (w *World) crashSoon(d *dice) {
	if l := w.someone(d, running); l != nil {
		l.disk.Faults().crash = 1 + d.IntN(8)
	}
}

func (w *World) diskError(d *dice) {
	if l := w.someone(d, running); l != nil {
		f := l.disk.Faults()
		f.failing, f.kind, f.late = 1+d.IntN(4), pick(d, diskErrors), d.one(2)
		l.ring.refuses = d.IntN(3)
		if errors.Is(f.kind, storage.ErrUnsynced) && d.one(2) {
			f.crash = 1 // before anything else is written
		}
	}
}

// database returns the real database of a laptop that runs on one.
func (l *Laptop) database() (*openDatabase, bool) {
	if l.up == nil {
		return nil, false
	}
	o, ok := l.up.store.(*watched).Store.(*openDatabase)
	return o, ok
}

// tidy lets a laptop bring its search index up to date, as it does when nothing
// comes.
func (w *World) tidy(d *dice) {
	l := w.someone(d, func(l *Laptop) bool { _, ok := l.database(); return ok })
	if l == nil {
		return
	}
	l.guarded(func() {
		o, _ := l.database()
		if err := o.tidy(1 + d.IntN(20)); err != nil && !injected(err) {
			w.fail("%s tidies up: %v", l, err)
		}
	})
	w.count.add("tidied")
}

// turnClock sets a clock wrong, by up to 30 years either way.
func (w *World) turnClock(d *dice) {
	l := w.someone(d, func(*Laptop) bool { return true })
	years := newDice(d.Uint64(), w.options.Clocks)
	l.clock = time.Duration(years.Int64N(int64(60*365*24*time.Hour))) - 30*365*24*time.Hour
	w.count.add("clock wrong")
}

func (w *World) stop(d *dice, l *Laptop) {
	if d.one(2) {
		l.close()
	} else if l.up != nil {
		l.die()
	}
}

// destroy takes a laptop for good, unless that leaves only one.
func (w *World) destroy(d *dice) {
	left := 0
	for _, l := range w.laptops {
		if !l.gone {
			left++
		}
	}
	l := w.someone(d, func(l *Laptop) bool { return !l.gone })
	if l == nil || left < 3 {
		return
	}
	if l.up != nil {
		l.die()
	}
	l.gone, l.promised = true, map[*mergetest.Fact]bool{}
	l.disk.Gone()
	w.count.add("disk destroyed")
}

// lie lets a disk lose what it had said to be durable.
func (w *World) lie(d *dice) {
	l := w.someone(d, func(l *Laptop) bool { return !l.gone })
	if l == nil {
		return
	}
	if l.up != nil {
		l.die()
	}
	if err := l.disk.Lie(d); err != nil {
		w.must(err)
		return
	}
	for f := range l.promised {
		l.lost[f] = true
	}
	l.promised = map[*mergetest.Fact]bool{}
	w.count.add("disk lied")
}
