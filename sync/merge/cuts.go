package merge

import (
	"slices"

	"plumbline/sync/entry"
)

// cutTable holds the counted cuts. A laptop that was restored a thousand times
// has a thousand logs, and a cut of it names each; so heads are located once
// and filed by log, and no step compares all of them with all others.
type cutTable struct {
	all      []*heardCut
	byID     map[entry.ID]*heardCut
	byDevice map[entry.DeviceID][]*heardCut
	raisedBy map[entry.ID][]*heardCut // by what their authors say they replace
}

type heardCut struct {
	Cut
	heads  map[entry.LogID][]cutHead
	raised bool
}

type cutHead struct {
	id    entry.ID
	place Place
	held  bool
}

func newCutTable() *cutTable {
	return &cutTable{
		byID: map[entry.ID]*heardCut{}, byDevice: map[entry.DeviceID][]*heardCut{}, raisedBy: map[entry.ID][]*heardCut{},
	}
}

// hear files cuts whose authors are of one rank. Only this rank and higher
// ones can raise them, and those have all spoken: what is raised is known.
func (t *cutTable) hear(l *Ledger, cuts []Cut) {
	first := len(t.all)
	for _, cut := range cuts {
		c := &heardCut{Cut: cut, heads: make(map[entry.LogID][]cutHead, len(cut.Body.Heads))}
		for _, id := range cut.Body.Heads {
			h := cutHead{id: id}
			h.place, h.held = l.Locate(id)
			c.heads[id.Log] = append(c.heads[id.Log], h)
		}
		t.all = append(t.all, c)
		t.byID[c.ID] = c
		t.byDevice[c.Body.Device] = append(t.byDevice[c.Body.Device], c)
		for _, id := range cut.Body.Replaces {
			t.raisedBy[id] = append(t.raisedBy[id], c)
		}
	}
	for _, c := range t.all[first:] {
		c.raised = slices.ContainsFunc(t.raisedBy[c.ID], func(by *heardCut) bool { return by.raises(l.Tree, c) })
	}
}

// raises reports whether c leaves the same or more of each log than low does,
// and no less beyond. Anything else narrows, and stands beside it.
func (c *heardCut) raises(t *Tree, low *heardCut) bool {
	if c.Body.Device != low.Body.Device || c.Body.Beyond < low.Body.Beyond {
		return false
	}
	for log, heads := range low.heads {
		for _, head := range heads {
			if !slices.ContainsFunc(c.heads[log], func(up cutHead) bool { return up.covers(t, head) }) {
				return false
			}
		}
	}
	return true
}

// covers reports whether the lower head is known to be at or before this one.
// A head that isn't held proves nothing yet.
func (h cutHead) covers(t *Tree, low cutHead) bool {
	return h.id == low.id || h.held && low.held && t.Before(low.place, h.place)
}

// binding returns the cuts that stand against a certificate of the device and
// rank, which its grants let through the cuts they name.
func (t *cutTable) binding(device entry.DeviceID, rank entry.Rank, readmits []entry.ID) []*heardCut {
	var binding []*heardCut
	for _, c := range t.byDevice[device] {
		if !c.raised && c.Author.Above(rank) && !t.spares(c, rank, readmits) {
			binding = append(binding, c)
		}
	}
	return binding
}

// spares reports whether a certificate's grants name the cut, or one that it
// replaces in one step or several: they were written knowing it, so it doesn't
// bind them, and raising it must not shut out what it let through. Steps lead
// only over cuts that can bind the certificate; the others aren't judged yet
// when it is, and what they come to may depend on it.
func (t *cutTable) spares(c *heardCut, rank entry.Rank, readmits []entry.ID) bool {
	if len(readmits) == 0 {
		return false
	}
	seen, todo := map[entry.ID]bool{}, []entry.ID{c.ID}
	for len(todo) > 0 {
		id := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		if slices.Contains(readmits, id) {
			return true
		}
		if seen[id] {
			continue
		}
		seen[id] = true
		if older := t.byID[id]; older != nil && older.Author.Above(rank) {
			todo = append(todo, older.Body.Replaces...)
		}
	}
	return false
}

// standing returns the cuts that no other one has raised.
func (t *cutTable) standing() []Cut {
	var cuts []Cut
	for _, c := range t.all {
		if !c.raised {
			cuts = append(cuts, c.Cut)
		}
	}
	return cuts
}

// limit is what the cut leaves of one log.
func (c *heardCut) limit(log entry.LogID) Limit {
	limit := Limit{Cut: c.ID, Beyond: c.Body.Beyond}
	for _, head := range c.heads[log] {
		if head.held {
			limit.Heads = append(limit.Heads, head.place)
		}
	}
	return limit
}
