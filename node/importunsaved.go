package node

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"plumbline/node/importer"
	"plumbline/sync/entry"
)

// What can't be saved is found row by row, before anything is: the table is one
// transaction, and its entries would be refused one and all without a line.

// cantSave says why what a row changes can't be saved; nothing if it can.
func (b *importing) cantSave(p importer.Proposal, id entry.RecordID, changes []placed) string {
	if len(changes) > 0 && p.Record != "" && id.Class() == entry.Owned && id.Person() != b.cert.Person {
		return fmt.Sprintf("this %s is %s's, and only they may change it; leave the row as it was, or out", kindName(id), b.personName(id.Person()))
	}
	for record, own := range byRecord(changes) {
		if body := (entry.Body{Kind: entry.KindChanges, Source: b.sourceOf(p), Changes: own}); !entry.Fits(record, body) {
			return fmt.Sprintf("its texts take more than the %d KiB that are saved of a record at once: %s; shorten them, or map one to %q and import it in a table of its own",
				entry.MaxSize>>10, longest(p, own), importer.Ignored)
		}
	}
	return ""
}

// longest names the longest values among changes, three at most.
func longest(p importer.Proposal, changes []entry.Change) string {
	const most = 3
	changes = slices.SortedStableFunc(slices.Values(changes), func(a, c entry.Change) int { return cmp.Compare(len(c.Value), len(a.Value)) })
	var named []string
	for _, c := range changes[:min(most, len(changes))] {
		for _, f := range p.Fields {
			if !f.IsRef() && f.Register.Address() == c.Register {
				named = append(named, fmt.Sprintf("%s %d KiB", f.Register.Path(), len(c.Value)>>10))
			}
		}
	}
	return strings.Join(named, ", ")
}
