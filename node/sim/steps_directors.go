package sim

import (
	"slices"

	"plumbline/node"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
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

func (w *World) revoke(d *dice) { w.cutDevice(d, entry.BeyondNothing, "revocation") }

func (w *World) demote(d *dice) { w.cutDevice(d, entry.BeyondScout, "demotion") }

// cutDevice ends what a device may do, mostly as of what the director's laptop
// holds of it.
func (w *World) cutDevice(d *dice, beyond entry.Beyond, what string) {
	by := w.someone(d, director)
	if by == nil {
		return
	}
	target := w.other(d, by)
	if target == nil {
		return
	}
	cut := entry.Cut{Device: target.device(), Beyond: beyond, Heads: by.headsOf(target.device())}
	if d.one(4) && len(cut.Heads) > 0 {
		cut.Heads = cut.Heads[1:]
	} else {
		cut.Heads = d.unforked(cut.Heads)
	}
	by.cut(cut)
	w.count.add(what)
}

func (l *Laptop) cut(cut entry.Cut) {
	w := l.w
	for _, f := range w.written.order {
		if f.Says.Kind == entry.KindCut && f.Says.Cut.Device == cut.Device && !l.held[f] {
			w.count.add("concurrent cut")
			break
		}
	}
	l.saveAll(node.Save{
		Drafts:     []node.Draft{{Body: entry.Body{Kind: entry.KindCut, Cut: &cut}}},
		NewLinkKey: cut.Beyond == entry.BeyondNothing,
	})
}

// headsOf names the end of each branch of a device's logs as held here.
func (l *Laptop) headsOf(device entry.DeviceID) []entry.ID {
	var heads []entry.ID
	for _, b := range l.up.store.Branches() {
		if b.Device == device {
			heads = append(heads, place{b.Log, b.Tip}.id())
		}
	}
	// In the order of writing, not of hashes.
	slices.SortFunc(heads, func(a, b entry.ID) int { return l.w.written.number[l.w.fact(a)] - l.w.written.number[l.w.fact(b)] })
	return heads
}

// unforked leaves, half the time, only the first head of each log, as somebody
// names them who hasn't heard yet that a disk was cloned.
func (d *dice) unforked(heads []entry.ID) []entry.ID {
	if d.one(2) {
		return heads
	}
	named := map[entry.LogID]bool{}
	return slices.DeleteFunc(slices.Clone(heads), func(id entry.ID) bool {
		again := named[id.Log]
		named[id.Log] = true
		return again
	})
}

// standing returns a cut that stands by what the laptop knows.
func (l *Laptop) standing(d *dice) (merge.Cut, bool) {
	cuts := slices.Clone(l.up.store.Verdict().Cuts)
	slices.SortFunc(cuts, func(a, b merge.Cut) int {
		return l.w.written.number[l.w.fact(a.ID)] - l.w.written.number[l.w.fact(b.ID)]
	})
	if len(cuts) == 0 {
		return merge.Cut{}, false
	}
	return pick(d, cuts), true
}

// raise accepts more of a device that was cut: what has come since.
func (w *World) raise(d *dice) {
	by := w.someone(d, director)
	if by == nil {
		return
	}
	if low, ok := by.standing(d); ok {
		heads := by.headsOf(low.Body.Device)
		for _, id := range low.Body.Heads {
			if !slices.Contains(heads, id) {
				heads = append(heads, id)
			}
		}
		by.cut(entry.Cut{Device: low.Body.Device, Beyond: low.Body.Beyond, Heads: heads, Replaces: []entry.ID{low.ID}})
		w.count.add("cut raised")
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

func (w *World) promote(d *dice) {
	by := w.someone(d, director)
	if by == nil {
		return
	}
	if target := w.other(d, by); target != nil && w.admit(d, by, target, true, by.cutsOf(target)) {
		w.count.add("promotion")
	}
}

// rootGrants writes a grant in the root's log. It is nowhere else yet.
func (w *World) rootGrants(l *Laptop, role entry.Role, generation uint64) []byte {
	c := entry.Certificate{Person: l.person, Role: role, Device: l.public(), Generation: generation}
	c.Opaque[0] = byte(len(w.root.run.Entries))
	w.rootWrites(entry.Body{Kind: entry.KindGrant, Grant: &entry.Grant{Certificate: c.Encode()}})
	return c.Encode()
}

func (w *World) rootWrites(body entry.Body) {
	e, err := w.root.writer.Append("", body, 0, 0)
	w.must(err)
	w.root.run.Entries = append(slices.Clip(w.root.run.Entries), e)
}

// rootSpeaks brings the root's log to a laptop: all of it, since the root is on
// paper and doesn't know what is held.
func (w *World) rootSpeaks(to *Laptop) {
	run := w.root.run
	run.Points = []entry.SignedPoint{w.root.writer.Sign()}
	if s := to.step(node.Introduced{Runs: []entry.Run{run}}); s.Err != nil && !injected(s.Err) && to.up != nil {
		w.fail("%s refuses the root's word: %v", to, s.Err)
	}
}

// rootStep lets the root admit a director of the next generation, as after the
// loss of the only director's laptop, or cut somebody.
func (w *World) rootStep(d *dice) {
	at := w.someone(d, running)
	if at == nil {
		return
	}
	if d.one(2) {
		target := pick(d, w.laptops)
		w.rootWrites(entry.Body{Kind: entry.KindCut, Cut: &entry.Cut{Device: target.device(), Heads: at.headsOf(target.device())}})
	} else {
		w.rootGrants(at, entry.RoleDirector, uint64(1+d.IntN(2)))
	}
	says, err := entry.DecodeBody(w.root.run.Entries[len(w.root.run.Entries)-1].Body)
	w.must(err)
	w.count.add("root speaks")
	w.say("the root at %s: %s", at, describe(says))
	w.rootSpeaks(at)
}
