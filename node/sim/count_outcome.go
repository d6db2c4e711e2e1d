package sim

import (
	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
	"plumbline/sync/merge/mergetest"
)

func (w *World) countRecord(row storage.Row) {
	switch row.Info.Visibility {
	case merge.Hidden:
		w.count.add("hidden")
	case merge.Disputed:
		w.count.add("retired against an edit")
	}
	for _, reg := range row.Registers {
		if reg.Conflict() {
			w.count.add("concurrent values")
		}
	}
	if pair, ok := merge.ReadPair(row.Record); ok && pair.Same {
		w.count.add("joined records")
	}
}

func (w *World) countEntries(l *Laptop, facts []*mergetest.Fact, statuses map[entry.ID]merge.Status) {
	replaced := map[entry.ID]int{}
	for _, f := range facts {
		switch statuses[f.ID] {
		case merge.SetAside:
			w.count.add("set aside")
			if w.late[f] {
				w.count.add("in-flight revocation")
			}
		case merge.NoRight:
			w.count.add("no right")
		case merge.Erased:
			w.count.add("erased")
		case merge.Unread:
			w.count.add("unread")
		}
		for _, c := range f.Says.Changes {
			if statuses[f.ID] == merge.Applied && len(c.Replaces) > 1 {
				w.count.add("settled")
			}
			for _, id := range c.Replaces {
				if statuses[f.ID] == merge.Applied {
					replaced[id]++
				}
			}
		}
	}
	for _, f := range facts {
		for _, c := range f.Says.Changes {
			for _, id := range c.Replaces {
				if statuses[f.ID] != merge.Applied && statuses[f.ID] != merge.Erased && replaced[id] == 0 && statuses[id] == merge.Applied {
					w.count.add("set-aside replacement")
				}
			}
		}
	}
	for _, n := range replaced {
		if n > 1 {
			w.count.add("stale replacement")
		}
	}
}
