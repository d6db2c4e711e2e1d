package sim

import (
	"errors"
	"maps"
	"slices"

	"plumbline/node"
	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
	"plumbline/sync/merge/mergetest"
)

// aside is what a person saw of what is set aside on their laptop. Like a glance it
// outlives the node's process.
type aside struct {
	asOf string
	held map[*mergetest.Fact]bool // all that the laptop held
	// unlisted was set aside too, and the list had no room for it.
	unlisted map[*mergetest.Fact]bool
}

// list puts what is set aside on the laptop's screen, the first of it in the order
// of writing, which no clock and no hash decides.
func (l *Laptop) list(d *dice) {
	entries, err := l.up.store.SetAside(background, 0)
	if err != nil {
		l.w.fail("%s can't list what is set aside: %v", l, err)
		return
	}
	number := l.w.written.number
	slices.SortFunc(entries, func(a, b storage.HistoryEntry) int { return number[l.w.fact(a.ID)] - number[l.w.fact(b.ID)] })
	shown := len(entries)
	if d.one(2) && shown > 0 {
		shown = 1 + d.IntN(shown)
	}
	l.aside = aside{asOf: node.ReadListed(entries[:shown]).String(), held: maps.Clone(l.held), unlisted: map[*mergetest.Fact]bool{}}
	for _, e := range entries[shown:] {
		l.aside.unlisted[l.w.fact(e.ID)] = true
	}
}

// accept lets a director count what they saw once of what a laptop wrote after it
// was cut, as the node does.
func (w *World) accept(d *dice) {
	by := w.someone(d, func(l *Laptop) bool { return director(l) && l.beyondCuts() })
	if by == nil {
		return
	}
	if by.aside.asOf == "" || d.one(3) {
		by.list(d)
	}
	if !d.one(3) {
		w.meanwhile(d, by)
	}
	if !director(by) || by.up.store.Blocked() {
		return
	}
	listed, err := by.reading(by.aside.asOf).Listed(background, by.up.store)
	if err == nil && len(listed) == 0 { // who finds nothing to accept looks again
		by.list(d)
		listed, err = by.reading(by.aside.asOf).Listed(background, by.up.store)
	}
	if errors.Is(err, node.ErrInvalid) {
		w.count.add("accepting refused")
		return
	}
	if err != nil {
		w.fail("%s can't tell what was listed: %v", by, err)
		return
	}
	for _, device := range w.devices(listed) {
		drafts, ok := by.raising(device, listed[device])
		if !ok {
			w.count.add("cut by a higher rank")
		}
		if len(drafts) > 0 {
			w.count.add("cut raised")
			by.countAccepting(device)
			if saved := by.saveAll(node.Save{Drafts: drafts}); len(saved) > 0 {
				by.checkAccepted(listed[device])
			}
			return
		}
	}
}

// meanwhile lets those who were cut and are linked yet go on writing before somebody
// presses, what they may no longer write too, and some of it arrive.
func (w *World) meanwhile(d *dice, by *Laptop) {
	if l := w.someone(d, func(l *Laptop) bool { return writer(l) && w.wasCut(l) && w.linked(l, by) != nil }); l != nil {
		id := pick(d, w.records)
		l.save(node.Draft{Record: id, Body: l.edits(d, id)})
	}
	w.deliverSome(d)
}

func (w *World) wasCut(l *Laptop) bool {
	return slices.ContainsFunc(w.written.order, func(f *mergetest.Fact) bool {
		return f.Says.Kind == entry.KindCut && f.Says.Cut.Device == l.device()
	})
}

// beyondCuts reports whether a list of what is set aside would have something in
// it that could be let count.
func (l *Laptop) beyondCuts() bool {
	if l.up.store.Blocked() || len(l.up.store.Verdict().Cuts) == 0 {
		return false
	}
	entries, err := l.up.store.SetAside(background, 0)
	if err != nil {
		l.w.fail("%s can't list what is set aside: %v", l, err)
	}
	branches := l.up.store.Branches()
	return slices.ContainsFunc(entries, func(e storage.HistoryEntry) bool { return e.ID.Seq > branches[e.Place.Branch].Span.Full })
}

// devices are those of which something was listed, in the order of its writing.
func (w *World) devices(listed map[entry.DeviceID][]entry.ID) []entry.DeviceID {
	first := func(device entry.DeviceID) int {
		n := len(w.written.order)
		for _, id := range listed[device] {
			n = min(n, w.written.number[w.fact(id)])
		}
		return n
	}
	return slices.SortedFunc(maps.Keys(listed), func(a, b entry.DeviceID) int { return first(a) - first(b) })
}

// raising drafts what accepts the entries, in the order in which the cuts were
// written.
func (l *Laptop) raising(device entry.DeviceID, listed []entry.ID) ([]node.Draft, bool) {
	_, cert, _ := l.best()
	drafts, ok := node.Raise(l.up.store.Verdict(), device, cert.Rank(), listed)
	old := func(d node.Draft) *mergetest.Fact { return l.w.fact(d.Body.Cut.Replaces[0]) }
	slices.SortFunc(drafts, func(a, b node.Draft) int { return l.w.written.number[old(a)] - l.w.written.number[old(b)] })
	for _, draft := range drafts {
		for _, head := range draft.Body.Cut.Heads {
			if !slices.Contains(old(draft).Says.Cut.Heads, head) {
				l.checkListed(head)
			}
		}
	}
	return drafts, ok
}

// checkListed holds ledger rule 12 against what was on screen: nothing is accepted
// that came in after that, or for which the list had no room.
func (l *Laptop) checkListed(head entry.ID) {
	for f := l.w.fact(head); f != nil; f = f.Prev {
		if !l.aside.held[f] || l.aside.unlisted[f] {
			l.w.fail("%s accepts entry %d, which wasn't listed", l, l.w.written.number[f])
		}
	}
}

// countAccepting notes what of the same laptop wasn't on the list that it was
// accepted from.
func (l *Laptop) countAccepting(device entry.DeviceID) {
	since, unlisted := false, false
	for f := range l.held {
		if entry.DeviceOf(f.First.Says.Genesis.Device) == device {
			since, unlisted = since || !l.aside.held[f], unlisted || l.aside.unlisted[f]
		}
	}
	if since {
		l.w.count.add("accepted from an earlier list")
	}
	if unlisted {
		l.w.count.add("accepted in part")
	}
}

// checkAccepted wants what was accepted to count, unless nobody granted it, or it
// stops all folding since it is newer than this program.
func (l *Laptop) checkAccepted(listed []entry.ID) {
	if l.up == nil || l.up.store.Blocked() {
		return
	}
	statuses, err := l.w.statuses(l)
	if err != nil {
		l.w.fail("%s can't be read: %v", l, err)
		return
	}
	for _, id := range listed {
		if statuses[id] == merge.SetAside && l.up.store.Verdict().Standing(id.Log).Granted {
			l.w.fail("%s has accepted entry %d, which stays set aside", l, l.w.written.number[l.w.fact(id)])
		}
	}
}
