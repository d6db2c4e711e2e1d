package sim

import (
	"slices"

	"plumbline/node"
	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

func (w *World) revoke(d *dice) { w.cutDevice(d, entry.BeyondNothing, "revocation") }

func (w *World) demote(d *dice) { w.cutDevice(d, entry.BeyondScout, "demotion") }

// cutDevice ends what a device may do, mostly as of what the director's laptop
// holds of it.
func (w *World) cutDevice(d *dice, beyond entry.Beyond, what string) {
	by, target := w.someone(d, director), (*Laptop)(nil)
	if above := w.someone(d, func(l *Laptop) bool { return director(l) && slices.ContainsFunc(w.laptops, l.mayCut) }); above != nil && !d.one(3) {
		by, target = above, w.someone(d, above.mayCut)
	} else if by != nil {
		target = w.other(d, by)
	}
	if target == nil {
		return
	}
	cut := entry.Cut{Device: target.device(), Beyond: beyond, Heads: by.headsOf(target.device())}
	switch {
	case d.one(4) && len(cut.Heads) > 0:
		cut.Heads = cut.Heads[1:]
	case d.one(2):
		for i, head := range cut.Heads {
			cut.Heads[i] = w.earlier(d, head)
		}
	default:
		cut.Heads = d.unforked(cut.Heads)
	}
	by.cut(cut)
	w.count.add(what)
}

// mayCut reports whether the laptop holds something of the other's that its cut
// would shut out.
func (l *Laptop) mayCut(other *Laptop) bool {
	_, own, _ := l.best()
	return !other.key.Equal(l.key) && slices.ContainsFunc(l.up.store.Branches(), func(b storage.BranchInfo) bool {
		return b.Device == other.device() && own.Rank().Above(b.Standing.Certificate.Rank())
	})
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

// earlier is an entry of the same log, a few before it.
func (w *World) earlier(d *dice, id entry.ID) entry.ID {
	f := w.fact(id)
	for n := d.IntN(4); n > 0 && f.Prev != nil; n-- {
		f = f.Prev
	}
	return f.ID
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
