package sim

import (
	"plumbline/node"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// connect links two laptops if each admits the other, as the mesh does: they
// show certificates, and who doesn't know one is introduced to the staff.
func (w *World) connect(a, b *Laptop) {
	if a == b || a.up == nil || b.up == nil || !w.reach(a, b) || w.linked(a, b) != nil || w.failure != nil {
		return
	}
	if !keyed(a, b) {
		w.count.add("no link key in common")
		return
	}
	if !w.admits(a, b) || !w.admits(b, a) {
		w.count.add("link refused")
		w.say("%s and %s don't link", a, b)
		return
	}
	k := &link{}
	for i, l := range []*Laptop{a, b} {
		w.lastLink++
		k.sides[i] = &side{link: k, l: l, up: l.up, id: node.LinkID(w.lastLink)}
	}
	if k.sides[0].up == nil || k.sides[1].up == nil {
		return // one lost its power over the introduction
	}
	w.links = append(w.links, k)
	w.say("%s and %s link", a, b)
	w.due.linked(k)
	for _, s := range k.sides {
		if s.lives() {
			s.l.step(node.Linked{Link: s.id, Device: s.peer().l.device()})
		}
	}
}

// admits reports whether a admits b, after an introduction if need be.
func (w *World) admits(a, b *Laptop) bool {
	if a.up == nil || b.up == nil {
		return false
	}
	shown, _, ok := b.best()
	if !ok {
		return false
	}
	_, admission := a.up.store.Verdict().Admission(shown)
	if admission == merge.Unknown {
		w.introduce(b, a)
		if a.up == nil {
			return false
		}
		_, admission = a.up.store.Verdict().Admission(shown)
	}
	return admission == merge.Admitted
}

// introduce lets one laptop learn the control logs of another.
func (w *World) introduce(from, to *Laptop) {
	if from.up == nil || to.up == nil || w.failure != nil {
		return
	}
	introduction, err := node.Introduction(from.up.store)
	if err != nil {
		if !injected(err) {
			w.fail("%s introduces itself: %v", from, err)
		}
		return
	}
	w.note("introduction", introduction)
	err = node.Learn(introduction, w.staff, learner{to}, func(run entry.Run) error {
		return to.step(node.Introduced{Runs: []entry.Run{run}}).Err
	})
	if err != nil && !injected(err) && to.up != nil {
		w.fail("%s learns from %s: %v", to, from, err)
	}
}

// learner is a laptop that is introduced to others, and may lose its power over it.
type learner struct{ *Laptop }

func (l learner) Verdict() *merge.Verdict { return l.verdict() }

func (l learner) Source(log entry.LogID, after entry.Point) (entry.Source, bool) {
	if l.up == nil {
		return entry.Source{}, false
	}
	return l.up.store.Source(log, after)
}

func (l *Laptop) verdict() *merge.Verdict {
	if l.up == nil {
		return &merge.Verdict{}
	}
	return l.up.store.Verdict()
}

// rejudge ends the links that a new verdict no longer allows, once what waits
// for the other one, the cut among it, has arrived.
func (w *World) rejudge(l *Laptop) {
	if l.up == nil {
		return
	}
	for _, k := range w.links {
		for _, s := range k.sides {
			if s.l == l && s.lives() && !k.ending && !l.allows(s.peer().l) {
				w.count.add("link ended by a cut")
				k.ending, k.farewell = true, l.cutsOf(s.peer().l)
				s.inbox, s.deaf = nil, true
			}
		}
	}
}

// heard looks at a link that a cut has ended, once all of it has arrived: who was
// cut off has heard why.
func (w *World) heard(k *link) {
	for _, s := range k.sides {
		if !k.ending || k.broken || k.rough || s.deaf || !s.lives() {
			continue
		}
		for _, cut := range k.farewell {
			if f := w.fact(cut); f == nil || !s.l.held[f] {
				w.fail("%s was cut off by %s without a word of why", s.l, s.peer().l)
			}
		}
		w.count.add("farewell")
	}
}

// allows reports whether any certificate of the other's device is admitted.
func (l *Laptop) allows(other *Laptop) bool {
	_, member := l.up.store.Verdict().Admitted()[other.device()]
	return member
}
