package sim

import (
	"slices"

	"plumbline/sync/merge/mergetest"
)

// end lets everything recover, links everybody who may be linked, and looks at
// what must hold then.
func (w *World) end() {
	w.step = Step{Number: -1, Do: "end"}
	d := newDice(w.plan.Seed, 5)
	sparing := d.one(2)
	w.recover(!sparing)
	w.sent, w.due, w.ends = 0, 0, 0
	for _, k := range w.links {
		w.due.linked(k)
		w.due.crossed(k)
	}
	held := w.holdings()
	if l := w.someone(d, running); l != nil && d.one(3) {
		// One more of these, so that what it prevented is made up for here.
		l.disk.Faults().failing, l.disk.Faults().kind = 1, pick(d, diskErrors)
	}
	if l := w.someone(d, running); l != nil && d.one(2) {
		l.ring.refuses = 1 + d.IntN(3)
	}
	for round := 0; w.failure == nil; round++ {
		before, ends := w.sets(), w.ends
		w.connectAll(d, sparing)
		w.settleDown(d)
		w.check()
		if slices.Equal(before, w.sets()) && w.ends == ends {
			break
		}
		if round > 2*len(w.laptops)+4 {
			w.fail("not settled after %d rounds of linking", round)
		}
	}
	if w.failure == nil && w.ends == 0 && w.count["fork"] == 0 {
		w.boundedBytes(w.gained(held))
	}
	if w.failure == nil {
		w.agree()
		w.atRest()
	}
}

// recover ends all faults, and all links where they are to be fresh. Else those
// that nothing was lost on go on.
func (w *World) recover(fresh bool) {
	clear(w.isles)
	for _, l := range w.laptops {
		l.disk.Faults().crash, l.disk.Faults().failing, l.ring.refuses = 0, 0, 0
	}
	for _, k := range slices.Clone(w.links) {
		k.loses, k.doubles, k.reorders = false, false, false
		if fresh || k.broken {
			w.cut(k)
		}
	}
	w.settle()
	if len(w.links) > 0 {
		w.count.add("healed without new links")
	}
	for _, l := range w.laptops {
		l.start()
	}
}

func (w *World) sets() (sets []digest) {
	for _, l := range w.laptops {
		sets = append(sets, l.set)
	}
	return sets
}

// connectAll links everybody with everybody in a small staff, else in a ring with
// some chords. Sparing, it links only those whom no way of links joins yet.
func (w *World) connectAll(d *dice, sparing bool) {
	for i, a := range w.laptops {
		for j, b := range w.laptops[:i] {
			if sparing {
				if !slices.ContainsFunc(w.groups(), func(g []*Laptop) bool { return slices.Contains(g, a) && slices.Contains(g, b) }) {
					w.connect(a, b)
				}
			} else if len(w.laptops) <= 8 || j == i-1 || j == 0 && i == len(w.laptops)-1 || d.one(8) {
				w.connect(a, b)
			}
		}
	}
}

// settleDown delivers until nothing is on its way, in a bounded number of steps.
func (w *World) settleDown(d *dice) {
	lacking := 0
	union := map[*mergetest.Fact]bool{}
	for _, l := range w.laptops {
		for f := range l.held {
			union[f] = true
		}
	}
	for _, l := range w.laptops {
		lacking += len(union) - len(l.held)
	}
	limit := 500 + 200*len(w.links) + 20*lacking
	for n := 0; w.deliver(d) || w.tryAgain(); n++ {
		if n > limit {
			w.fail("laptops still talk after %d steps over %d links", n, len(w.links))
		}
	}
}

// groups are laptops that are linked with each other, over others perhaps.
func (w *World) groups() (groups [][]*Laptop) {
	seen := map[*Laptop]bool{}
	for _, l := range w.laptops {
		if seen[l] || l.up == nil {
			continue
		}
		group := []*Laptop{l}
		seen[l] = true
		for i := 0; i < len(group); i++ {
			for _, k := range w.links {
				for _, s := range k.sides {
					if other := s.peer().l; s.l == group[i] && !k.ending && !seen[other] {
						seen[other] = true
						group = append(group, other)
					}
				}
			}
		}
		groups = append(groups, group)
	}
	return groups
}

// agree looks at each group: all hold the same, everything that any of them had
// acknowledged is there, and the rules read out loud come to what they show.
func (w *World) agree() {
	for _, l := range w.laptops {
		l.disk.Faults().failing = 0
	}
	for _, group := range w.groups() {
		first := group[0]
		for _, l := range group {
			if l.set != first.set {
				w.fail("%s holds %d entries and %s %d, though they are linked", first, first.set[0], l, l.set[0])
			}
			for _, f := range w.written.order {
				if l.promised[f] && !first.held[f] {
					w.fail("%s had acknowledged %d (%s), which %s lacks", l, w.written.number[f], f.ID, first)
				}
			}
		}
		if w.failure == nil {
			w.checkKeys(group)
		}
		for _, l := range group {
			if w.failure == nil {
				w.followsTheRules(l)
				w.sound(l)
			}
		}
	}
}

// atRest looks at what each side of each link thinks of the other in the end.
func (w *World) atRest() {
	for _, k := range w.links {
		for _, s := range k.sides {
			session := s.up.core.Session(s.id)
			if session == nil || !session.Synced() || session.Waiting() || session.Behind() > 0 {
				w.fail("%s isn't at rest with %s when nothing is on its way", s.l, s.peer().l)
			}
		}
	}
}

// sound lets a real database check itself: hashes, signatures, and everything that
// is derived from entries.
func (w *World) sound(l *Laptop) {
	o, real := l.database()
	if !real || w.failure != nil {
		return
	}
	report, err := o.Store.Verify(background, nil)
	if err != nil || len(report.Faults) > 0 {
		w.fail("%s's database isn't sound: %v %v", l, report.Faults, err)
	}
}
