package sim

import (
	"slices"

	"plumbline/node"
	"plumbline/sync/entry"
)

// director is a running laptop with a director's rights.
func director(l *Laptop) bool {
	if l.up == nil {
		return false
	}
	_, cert, ok := l.best()
	return ok && cert.Role == entry.RoleDirector
}

// admit lets a director grant a laptop its certificate.
func (w *World) admit(d *dice, by, l *Laptop, asDirector bool, readmits []entry.ID) bool {
	own, cert, ok := by.best()
	if !ok || cert.Role != entry.RoleDirector {
		return false
	}
	role := entry.RoleScout
	if asDirector {
		role = entry.RoleDirector
	}
	c := entry.Certificate{Person: l.person, Role: role, Device: l.public(), Generation: cert.Generation}
	c.Path = append(slices.Clone(cert.Path), entry.CertificateOf(own))
	for i := range c.Opaque {
		c.Opaque[i] = byte(d.Uint32())
	}
	ids := by.save(node.Draft{Body: entry.Body{Kind: entry.KindGrant, Grant: &entry.Grant{Certificate: c.Encode(), Readmits: readmits}}})
	if len(ids) == 0 {
		return false
	}
	l.certificate = c.Encode()
	return true
}

// join admits a laptop in the middle of the season.
func (w *World) join(d *dice) {
	by := w.someone(d, director)
	if by == nil || len(w.laptops) >= 2*w.plan.Laptops+2 {
		return
	}
	l := w.newLaptop(d.one(8))
	if other := pick(d, w.laptops); d.one(3) {
		l.person = other.person
		w.count.add("second laptop of a person")
	}
	if !w.admit(d, by, l, d.one(4), nil) {
		l.disk.Gone()
		return
	}
	w.count.add("join")
	w.laptops = append(w.laptops, l)
	w.isles[l] = w.isles[by]
	l.ring.pair(by.ring)
	l.start()
	w.introduce(by, l)
	w.connect(by, l)
}

// other is a laptop that isn't of the same device.
func (w *World) other(d *dice, l *Laptop) *Laptop {
	return w.someone(d, func(o *Laptop) bool { return !o.key.Equal(l.key) && o.certificate != nil })
}

func (w *World) promote(d *dice) {
	by := w.someone(d, director)
	if by == nil {
		return
	}
	if target := w.other(d, by); target != nil && w.admit(d, by, target, true, by.cutsOf(target)) {
		w.count.add("promotion")
	}
}

// readmit grants a device that was cut another certificate.
func (w *World) readmit(d *dice) {
	by := w.someone(d, director)
	if by == nil {
		return
	}
	cut, ok := by.standing(d)
	if !ok {
		return
	}
	target := w.someone(d, func(l *Laptop) bool { return l.device() == cut.Body.Device && l != by })
	if target != nil && w.admit(d, by, target, d.one(3), by.cutsOf(target)) {
		w.count.add("readmission")
		target.ring.pair(by.ring)
		target.readmitted = true
		w.introduce(by, target)
	}
}

// cutsOf names the standing cuts of a device.
func (l *Laptop) cutsOf(other *Laptop) []entry.ID {
	var ids []entry.ID
	for _, cut := range l.up.store.Verdict().Cuts {
		if cut.Body.Device == other.device() {
			ids = append(ids, cut.ID)
		}
	}
	return ids
}
