package merge

import (
	"cmp"
	"slices"

	"plumbline/sync/entry"
)

// LinkKey is a counted announcement of a link key.
type LinkKey struct {
	ID     entry.ID
	Device entry.DeviceID
	Body   entry.LinkKey
	// Usable is set while the key may open links: it has seen every revocation
	// that stands. Whoever was revoked since could know an older one.
	Usable bool
	// Waits is set while a head that its author had seen isn't held: there may
	// be revocations that the author knew and this laptop doesn't.
	Waits bool

	place Place
	after int // how many other keys it has seen
}

// weighKeys says which of the announced keys are usable, and puts the newest
// first. A demoted laptop stays a member and may know the key, so only cuts that
// leave nothing are asked for.
func (j *judge) weighKeys(cuts []Cut) {
	heads := make([][]Place, len(j.keys))
	for i, k := range j.keys {
		heads[i] = []Place{k.place}
		for _, id := range k.Body.Seen {
			at, held := j.Locate(id)
			if held {
				heads[i] = append(heads[i], at)
			}
			j.keys[i].Waits = j.keys[i].Waits || !held
		}
	}
	saw := func(key int, at Place) bool {
		return slices.ContainsFunc(heads[key], func(head Place) bool { return j.Tree.Before(at, head) })
	}
	for i := range j.keys {
		k := &j.keys[i]
		k.Usable = !slices.ContainsFunc(cuts, func(c Cut) bool {
			return c.Body.Beyond == entry.BeyondNothing && !saw(i, c.place)
		})
		for _, other := range j.keys {
			if other.ID != k.ID && saw(i, other.place) {
				k.after++
			}
		}
	}
	slices.SortFunc(j.keys, func(a, b LinkKey) int { return cmp.Or(cmp.Compare(b.after, a.after), b.ID.Compare(a.ID)) })
}
