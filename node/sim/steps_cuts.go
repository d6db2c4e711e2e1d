package sim

import (
	"slices"

	"plumbline/node"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

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
