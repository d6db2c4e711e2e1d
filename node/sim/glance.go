package sim

import (
	"errors"
	"slices"

	"plumbline/node"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
	"plumbline/sync/merge/mergetest"
)

// glance is what a person saw when a record was shown to them. It outlives the
// node's process, as an open page does.
type glance struct {
	asOf        string
	held        map[*mergetest.Fact]bool // all that the laptop held
	visibility  merge.Visibility
	retirements []entry.ID // of the record, those that counted
}

// reading is what the node makes of what a page sends back.
func (l *Laptop) reading(asOf string) node.Reading {
	read, err := node.ParseReading(asOf)
	if err != nil {
		l.w.fail("%s can't read up to where something was read: %v", l, err)
	}
	return read
}

// retirement is the entry by which a person retires what they saw once, as the
// node makes it; false where it is refused, since a disk lost what they saw.
func (l *Laptop) retirement(id entry.RecordID) (node.Draft, bool) {
	seen, ok := l.read[id]
	if !ok {
		return node.Draft{}, false
	}
	draft, err := l.reading(seen.asOf).Retirement(background, l.up.store, id)
	if errors.Is(err, node.ErrInvalid) {
		l.w.count.add("retirement refused")
		return node.Draft{}, false
	}
	if err != nil {
		l.w.fail("%s can't retire a record: %v", l, err)
		return node.Draft{}, false
	}
	l.checkRead(id, seen, draft.Body.Retirement.Heads)
	return draft, true
}

// checkRead holds ledger rule 17 against what was on screen: a retirement covers
// nothing that came in after that.
func (l *Laptop) checkRead(id entry.RecordID, seen glance, heads []entry.ID) {
	for _, head := range heads {
		for f := l.w.fact(head); f != nil; f = f.Prev {
			if !seen.held[f] {
				l.w.fail("%s retires %.4s and covers entry %d, which came in after it was read", l, id.String(), l.w.written.number[f])
			}
		}
	}
	if l.newsOf(id, seen) {
		l.w.count.add("retired from an earlier screen")
	}
}

// newsOf reports whether something has come in on a record since it was seen.
func (l *Laptop) newsOf(id entry.RecordID, seen glance) bool {
	for f := range l.held {
		if !seen.held[f] && f.Header.Record == id {
			return true
		}
	}
	return false
}

// keeping is the entry by which a person answers the retirements that they saw of
// a record once, as the node makes it; false where there is nothing to answer, and
// where it is refused, since a disk lost what they saw or more has come in.
func (l *Laptop) keeping(id entry.RecordID) (node.Draft, bool) {
	seen, ok := l.read[id]
	if !ok || l.up.store.Blocked() {
		return node.Draft{}, false
	}
	row, err := l.up.store.Record(background, id)
	if err != nil || row.Info.Visibility == merge.Visible {
		return node.Draft{}, false
	}
	read := l.reading(seen.asOf)
	draft, err := read.Keep(background, l.up.store, id)
	if errors.Is(err, node.ErrInvalid) {
		l.w.count.add("keep refused")
		return node.Draft{}, false
	}
	since, more := read.RetiredSince(background, l.up.store, id)
	if err := errors.Join(err, more); err != nil {
		l.w.fail("%s can't keep a record: %v", l, err)
		return node.Draft{}, false
	}
	l.checkKept(id, seen, len(since) > 0)
	if len(since) > 0 {
		l.w.count.add("not kept, since it was retired once more")
		return node.Draft{}, false
	}
	if l.newsOf(id, seen) {
		l.w.count.add("kept from an earlier screen")
	}
	return draft, true
}

// checkKept holds ledger rule 17 against what was on screen: a keep answers no
// retirement that wasn't seen, and is refused for nothing else.
func (l *Laptop) checkKept(id entry.RecordID, seen glance, refused bool) {
	statuses, err := l.w.statuses(l)
	if err != nil {
		l.w.fail("%s can't be read: %v", l, err)
		return
	}
	unseen := 0
	for f := range l.held {
		if f.Says.Kind == entry.KindRetirement && f.Header.Record == id && statuses[f.ID] == merge.Applied && !slices.Contains(seen.retirements, f.ID) {
			unseen++
		}
	}
	if refused != (unseen > 0) {
		l.w.fail("%s keeps %.4s, of which %d retirements weren't seen, and that it is refused is %v", l, id.String(), unseen, refused)
	}
}
