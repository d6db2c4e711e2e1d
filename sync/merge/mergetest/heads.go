package mergetest

import (
	"maps"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Heads is what a retirement of the records carries whose author has read all
// that the laptop holds: for each branch that wrote to them or to what refers to
// them, the last applied entry, and those before it that aren't applied.
func (lap *Laptop) Heads(ids ...entry.RecordID) entry.Retirement {
	family := map[entry.RecordID]bool{}
	for _, id := range ids {
		maps.Copy(family, lap.family(id))
	}
	var r entry.Retirement
	for b := range merge.Branch(lap.tree.Len()) {
		var aside, waiting []entry.ID
		var head *Fact
		for _, f := range lap.Held {
			if lap.places[f.ID].Branch != b || !family[f.Header.Record] {
				continue
			}
			if lap.Status[f.ID] != merge.Applied {
				waiting = append(waiting, f.ID)
				continue
			}
			head, aside = f, append(aside, waiting...)
			waiting = nil
		}
		if head != nil {
			r.Heads, r.SetAside = append(r.Heads, head.ID), append(r.SetAside, aside...)
		}
	}
	return r
}
