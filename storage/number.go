package storage

import (
	"fmt"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Entries and records are numbered so that what is read together lies
// together: an entry by branch and place in it, a record by kind and a running
// number. Both numbers mean nothing outside one database.
const (
	shift = 40
	below = 1<<shift - 1
)

// entryKey is the row number of an entry.
type entryKey int64

func keyOf(p merge.Place) entryKey { return entryKey(p.Branch)<<shift | entryKey(p.Seq) }

func (k entryKey) place() merge.Place {
	return merge.Place{Branch: merge.Branch(k >> shift), Seq: uint64(k & below)}
}

// recordKey is the row number of a record; 0 for none.
type recordKey int64

func firstOf(kind entry.Kind) recordKey { return recordKey(kind) << shift }

func (k recordKey) kind() entry.Kind { return entry.Kind(k >> shift) }

// keysOf returns the numbers between which records of a kind lie; all for 0, by
// which callers mean any kind.
func keysOf(kind entry.Kind) (from, to recordKey) {
	if kind == 0 {
		return 0, 1<<62 - 1
	}
	return ofKind(kind)
}

// ofKind returns the numbers between which records of just this kind lie. What a peer
// sends can be of kind 0, too.
func ofKind(kind entry.Kind) (from, to recordKey) { return firstOf(kind), firstOf(kind) + below }

// onward takes the next row of a walk in the order of their numbers. Where a
// damaged page has them in another order a walk would go in circles.
func onward[K entryKey | recordKey](last *K, n K) error {
	if n <= *last {
		return fmt.Errorf("row %d after row %d: %w", n, *last, ErrCorrupt)
	}
	*last = n
	return nil
}
