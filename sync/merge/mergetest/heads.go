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
	family := lap.families(ids)
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

// Unread lists what counts on the records and on what refers to them, and that
// somebody who had read so far hadn't read.
func (lap *Laptop) Unread(read entry.Retirement, ids ...entry.RecordID) (list []*Fact) {
	family := lap.families(ids)
	for _, f := range lap.Held {
		if family[f.Header.Record] && lap.Status[f.ID] == merge.Applied && !merge.HadRead(read, f.ID, lap) {
			list = append(list, f)
		}
	}
	return list
}

func (lap *Laptop) families(ids []entry.RecordID) map[entry.RecordID]bool {
	family := map[entry.RecordID]bool{}
	for _, id := range ids {
		maps.Copy(family, lap.family(id))
	}
	return family
}
