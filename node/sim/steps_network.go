package sim

import "slices"

func (w *World) deliverSome(d *dice) {
	for range 1 + d.IntN(12) {
		if !w.deliver(d) {
			return
		}
	}
}

func (w *World) link(d *dice) {
	if a := w.someone(d, running); a != nil {
		if b := w.someone(d, func(l *Laptop) bool { return l.up != nil && l != a && w.linked(a, l) == nil }); b != nil {
			w.connect(a, b)
		}
	}
}

func (w *World) cutLink(d *dice) {
	if len(w.links) > 0 {
		w.count.add("link cut")
		w.cut(pick(d, w.links))
	}
}

// part splits the network. Links across either stall or break.
func (w *World) part(d *dice) {
	for _, l := range w.laptops {
		w.isles[l] = d.IntN(2)
	}
	for _, k := range slices.Clone(w.links) {
		if !w.reach(k.sides[0].l, k.sides[1].l) {
			w.count.add("partition")
			if d.one(2) {
				w.cut(k)
			}
		}
	}
}

func (w *World) heal(*dice) { clear(w.isles) }

// weather makes a link bad, or good again.
func (w *World) weather(d *dice) {
	if len(w.links) > 0 {
		k := pick(d, w.links)
		k.loses, k.doubles, k.reorders = d.one(3), d.one(2), d.one(2)
	}
}
