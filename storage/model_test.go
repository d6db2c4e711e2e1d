package storage

import (
	"fmt"
	"slices"
	"strings"

	"plumbline/sync/merge"
	"plumbline/sync/merge/mergetest"
)

// dumpOf writes down what a store must hold, a line for each thing, from what a
// laptop without a database makes of the same facts.
func dumpOf(lap *mergetest.Laptop) string {
	var lines []string
	add := func(format string, args ...any) { lines = append(lines, fmt.Sprintf(format, args...)) }
	for id, status := range lap.Status {
		add("entry %s status %d", id, status)
	}
	for id, r := range lap.Records {
		lamport := uint64(0)
		for _, f := range lap.Held {
			if f.Header.Record == id && lap.Status[f.ID] == merge.Applied {
				lamport = max(lamport, f.Header.Lamport)
			}
		}
		if lamport == 0 {
			continue // nothing applied, nothing kept
		}
		visibility := lap.Visibility(id)
		add("record %s state %x lamport %d conflicts %d visibility %d", id, r.Encode(), lamport, len(r.Conflicts()), visibility)
		for _, to := range r.References() {
			add("record %s refers to %s", id, to)
		}
		if words := (projector{}).Words(r); strings.Contains(words, "elm") && visibility != merge.Hidden {
			add("found %s", id)
		}
	}
	for _, p := range lap.Pairs() {
		add("pair %+v", p)
	}
	add("hash %s", lap.Hash)
	slices.Sort(lines)
	return strings.Join(lines, "\n")
}
