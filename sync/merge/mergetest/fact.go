package mergetest

import (
	"slices"

	"plumbline/sync/entry"
)

// Fact is one entry at its place, linked to the one before it in its log.
type Fact struct {
	entry.Entry
	ID    entry.ID
	Says  entry.Body
	By    Device
	Prev  *Fact
	First *Fact // of its log, which says whose it is
}

// IDs names facts as entries do.
func IDs(facts []*Fact) (list []entry.ID) {
	for _, f := range facts {
		list = append(list, f.ID)
	}
	return list
}

// Find returns the fact of that name, which must be one of the world's.
func (w *World) Find(id entry.ID) *Fact {
	return w.Facts[slices.IndexFunc(w.Facts, func(f *Fact) bool { return f.ID == id })]
}

// Without returns the facts but these and those that follow them in their logs.
func Without(facts []*Fact, gone ...*Fact) (rest []*Fact) {
	for _, f := range facts {
		at := f
		for at != nil && !slices.Contains(gone, at) {
			at = at.Prev
		}
		if at == nil {
			rest = append(rest, f)
		}
	}
	return rest
}
