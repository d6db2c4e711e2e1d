package exchange

import (
	"slices"

	"plumbline/sync/entry"
)

// known is a point of a log in which the two laptops met.
type known struct {
	entry.Point
	has      bool // the peer said that it holds it
	told     bool // the peer was told of it, or given it
	last     bool // the peer was given it for good, see Part
	declined bool // the peer said that it won't take it
}

// maxKnown is how many points of a log are kept before those that have become
// the middle of a branch are dropped.
const maxKnown = 16

// met returns what is known of a point, making a note of it if there is none.
// It is valid until the next call.
func (s *Session) met(log entry.LogID, p entry.Point) *known {
	points := s.peer[log]
	i := slices.IndexFunc(points, func(k known) bool { return k.Point == p })
	if i < 0 {
		if len(points) >= maxKnown {
			points = s.forget(log, points)
		}
		i, points = len(points), append(points, known{Point: p})
		s.peer[log] = points
	}
	return &points[i]
}

// forget keeps the points that are tips here, and the highest that are held
// and not held here: the first say what the peer lacks, the others from where
// to push and whether the peer is ahead.
func (s *Session) forget(log entry.LogID, points []known) []known {
	var tips []entry.Point
	for _, t := range s.config.Holdings.TipsOf(log) {
		tips = append(tips, t.Point)
	}
	var highest [2]known
	kept := slices.DeleteFunc(points, func(k known) bool {
		if slices.Contains(tips, k.Point) {
			return false
		}
		side := 0
		if s.config.Holdings.Holds(log, k.Point) {
			side = 1
		}
		if k.Seq > highest[side].Seq && k.has {
			highest[side] = k
		}
		return true
	})
	for _, k := range highest {
		if k.Seq > 0 {
			kept = append(kept, k)
		}
	}
	return kept
}

// base returns the highest points of the log, before the given one, from
// which the peer can go on.
func (s *Session) bases(log entry.LogID, before uint64) []entry.Point {
	var points []entry.Point
	for _, k := range s.peer[log] {
		if (k.has || k.told) && k.Seq < before {
			points = append(points, k.Point)
		}
	}
	slices.SortFunc(points, higherFirst)
	return points
}

func higherFirst(a, b entry.Point) int {
	if a.Seq > b.Seq {
		return -1
	}
	if a.Seq < b.Seq {
		return 1
	}
	return 0
}
