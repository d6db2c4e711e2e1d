package exchange

import (
	"errors"
	"sort"

	"plumbline/sync/entry"
)

// ErrNotHeld is returned by [Holdings.Range] when the end of the range isn't
// held, or the start doesn't lie before it on one branch.
var ErrNotHeld = errors.New("no such range is held")

// Tip is the last entry of one branch of a log. A log that was never cloned
// has one branch.
type Tip struct {
	Log entry.LogID
	entry.Point
	// Control tells control logs from others. From a peer it is a claim, on
	// which nothing hangs but the order in which logs are asked for.
	Control bool
}

// Holdings is what this laptop holds, as a session reads it. Every answer is
// of the moment: what a session was told in Changed or Stored is in it. The
// order of tips is the order in which a peer will ask for logs.
type Holdings interface {
	// Tips returns the tip of every branch. It is called often, so it should
	// cost no more than its length.
	Tips() []Tip
	// TipsOf returns those of one log. It costs no more than their number.
	TipsOf(log entry.LogID) []Tip
	// Holds reports whether exactly this entry is held, on any branch. With
	// an entry all those before it on its branch are held.
	Holds(log entry.LogID, at entry.Point) bool
	// Samples returns points of the branch that ends at the tip: the tip,
	// then points at growing distance back from it, then the first entry.
	// None if the tip isn't held.
	Samples(log entry.LogID, tip entry.Point) []entry.Point
	// Source returns what Verify needs to check a run that attaches at the
	// point. At sequence number 0, whose hash isn't looked at, it answers for
	// any log, held or new; elsewhere it is false for a point not held.
	Source(log entry.LogID, after entry.Point) (entry.Source, bool)
	// Range returns the entries after a point (sequence number 0, whose hash
	// isn't looked at, for the beginning) on the branch that leads to upto:
	// as many as fit into max bytes by Raw.Size and end at a signed point,
	// with the signed points among them. It may return none when no signed
	// point is within reach, and returns ErrNotHeld when after isn't before
	// upto or either isn't held.
	Range(log entry.LogID, after, upto entry.Point, max int) ([]entry.Raw, []entry.SignedPoint, error)
	// Wants reports whether more of a branch may be stored. It is false where
	// the space for what is only set aside is used up.
	Wants(tip Tip) bool
}

// Missing returns what is left of a run without the entries that are held, so
// that it attaches where the holdings end. Runs are given out cut like this;
// who stores them does it again, since another session may have been faster.
func Missing(h Holdings, run entry.Run) entry.Run {
	held := sort.Search(len(run.Entries), func(i int) bool { return !h.Holds(run.Log, run.Entries[i].Point) })
	if held == 0 {
		return run
	}
	last := run.Entries[held-1]
	run.After, run.Lamport, run.Entries = last.Point, last.Header.Lamport, run.Entries[held:]
	for len(run.Points) > 0 && run.Points[0].Seq <= last.Seq {
		run.Points = run.Points[1:]
	}
	return run
}
