package sim

import (
	"slices"

	"plumbline/node"
	"plumbline/sync/entry"
	"plumbline/sync/exchange"
)

// link joins two running laptops. Messages wait at the side that they are for.
type link struct {
	sides [2]*side
	// bad weather on the link
	loses, doubles, reorders bool
	// rough is set once something came twice or out of order.
	rough bool
	// broken is set once something was lost: whoever waits for it waits for good.
	broken bool
	// ending is set when one side admits the other no longer: what waits is still
	// delivered to that one, nothing more is taken of it.
	ending bool
	// farewell is what that one is to hear, the cuts of its device.
	farewell []entry.ID
}

// side is one laptop's end of a link.
type side struct {
	link  *link
	l     *Laptop
	up    *process // the process that the link ends in
	id    node.LinkID
	inbox [][]byte
	deaf  bool
}

func (s *side) peer() *side {
	if s.link.sides[0] == s {
		return s.link.sides[1]
	}
	return s.link.sides[0]
}

// lives reports whether the process that had the link is there yet.
func (s *side) lives() bool { return s.up != nil && s.l.up == s.up }

// linked finds a link between two laptops.
func (w *World) linked(a, b *Laptop) *link {
	for _, k := range w.links {
		if k.sides[0].l == a && k.sides[1].l == b || k.sides[0].l == b && k.sides[1].l == a {
			return k
		}
	}
	return nil
}

// reach reports whether the network carries between two laptops.
func (w *World) reach(a, b *Laptop) bool { return w.isles[a] == w.isles[b] }

// send puts a message on its way.
func (w *World) send(l *Laptop, a node.Send) {
	w.sent += len(a.Message)
	w.note("message", a.Message)
	if a.Message[0] == exchange.KindLinkKeys {
		w.say("%s passes link keys", l)
	}
	for _, k := range w.links {
		for _, s := range k.sides {
			if s.id == a.Link && s.l == l && s.peer().lives() && !s.peer().deaf {
				s.peer().inbox = append(s.peer().inbox, a.Message)
			}
		}
	}
}

// drop ends a link that one side can't go on with. On a sound link there is no
// reason for it but the laptop's own disk.
func (w *World) drop(l *Laptop, a node.Drop) {
	w.say("%s drops a link: %v", l, a.Err)
	for _, k := range w.links {
		for _, s := range k.sides {
			if s.id != a.Link || s.l != l {
				continue
			}
			if !injected(a.Err) && !k.broken && !k.rough {
				w.fail("%s drops a sound link: %v", l, a.Err)
			}
			w.cut(k)
		}
	}
}

// cut breaks a link; what is on its way is lost.
func (w *World) cut(k *link) {
	if !slices.Contains(w.links, k) {
		return
	}
	w.ends++
	w.links = slices.DeleteFunc(slices.Clone(w.links), func(other *link) bool { return other == k })
	for _, s := range k.sides {
		w.later = append(w.later, func() {
			if s.lives() {
				s.l.step(node.Unlinked{Link: s.id})
			}
		})
	}
}

// hangUp is what the others notice of a process that is gone: in time, after
// what was still on its way.
func (w *World) hangUp(l *Laptop) {
	for _, k := range w.links {
		for _, s := range k.sides {
			if s.l == l {
				s.inbox, s.deaf = nil, true
			}
		}
	}
}

// sweep takes away links whose end has arrived at the other side.
func (w *World) sweep() {
	for _, k := range slices.Clone(w.links) {
		a, b := k.sides[0], k.sides[1]
		over := k.ending || !a.lives() || !b.lives()
		waiting := a.lives() && len(a.inbox) > 0 || b.lives() && len(b.inbox) > 0
		if over && (!waiting || !w.reach(a.l, b.l)) {
			if !waiting {
				w.heard(k)
			}
			w.cut(k)
		}
	}
	for len(w.later) > 0 && w.failure == nil {
		next := w.later[0]
		w.later = w.later[1:]
		next()
	}
}

// deliver hands over what waits on one side: one message or a few, which are
// then taken in one step. It reports whether there was any.
func (w *World) deliver(d *dice) bool {
	var waiting []*side
	for _, k := range w.links {
		for _, s := range k.sides {
			if len(s.inbox) > 0 && s.lives() && w.reach(k.sides[0].l, k.sides[1].l) {
				waiting = append(waiting, s)
			}
		}
	}
	if len(waiting) == 0 || w.failure != nil {
		return false
	}
	s := pick(d, waiting)
	var events []node.Event
	for range 1 + d.IntN(3) {
		if m, ok := s.next(d); ok {
			w.note("arrives", m)
			events = append(events, node.Received{Link: s.id, Message: slices.Clone(m)})
		}
	}
	if len(events) > 0 {
		s.l.step(events...)
	}
	w.settle()
	return true
}

// next takes a message out of the inbox, as the weather on the link allows.
func (s *side) next(d *dice) ([]byte, bool) {
	if len(s.inbox) == 0 {
		return nil, false
	}
	k, count := s.link, s.l.w.count
	i := 0
	if k.reorders && len(s.inbox) > 1 && d.one(3) {
		i = 1 + d.IntN(len(s.inbox)-1)
		k.rough = true
		count.add("reordering")
	}
	m := s.inbox[i]
	if k.doubles && d.one(4) {
		k.rough = true
		count.add("duplication")
		return m, true
	}
	s.inbox = slices.Delete(s.inbox, i, i+1)
	if k.loses && d.one(4) {
		count.add("loss")
		k.broken = true
		return nil, false
	}
	return m, true
}
