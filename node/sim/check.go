package sim

import "plumbline/sync/entry"

// check looks, after every step, at what must hold at every moment: laptops that
// hold equal entries have equal states, whenever and on whatever disk that was.
func (w *World) check() {
	for _, l := range w.laptops {
		if l.up == nil || !l.changed || w.failure != nil {
			continue
		}
		l.changed = false
		if l.up.store.Blocked() {
			w.count.add("blocked")
			continue
		}
		hash := l.up.store.StateHash()
		bytes := hash.Bytes()
		w.note("state", bytes[:])
		if before, known := w.states[l.set]; known && before != hash {
			w.fail("%s holds %d entries that came to another state before", l, l.set[0])
		}
		w.states[l.set] = hash
	}
}

// unheardCut reports whether a cut of the laptop's device was written of which it
// hasn't heard.
func (w *World) unheardCut(l *Laptop) bool {
	for _, f := range w.written.order {
		if f.Says.Kind == entry.KindCut && f.Says.Cut.Device == l.device() && !l.held[f] {
			return true
		}
	}
	return false
}
