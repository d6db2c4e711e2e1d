package storage

import (
	"fmt"
	"maps"
	"slices"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// attach finds the place of a run and adds what is new of it to the draft.
// Nothing is written yet.
func (d *draft) attach(run entry.Run) error {
	if len(run.Entries) == 0 {
		return nil
	}
	if d.logs[run.Log] == nil {
		return d.attachLog(run)
	}
	at, err := d.attachedAt(run)
	if err != nil {
		return err
	}
	at, rest, err := d.skip(at, run)
	if err != nil || len(rest) == 0 {
		return err
	}
	if at.Seq == 0 {
		return fmt.Errorf("log %s: %w: another first entry is held", run.Log, ErrDetached)
	}
	n, err := d.continuing(at)
	if err != nil {
		return err
	}
	return d.grow(n, rest, run.Points)
}

func detached(run entry.Run) error {
	return fmt.Errorf("log %s, entry %d: %w", run.Log, run.After.Seq, ErrDetached)
}

func (d *draft) attachLog(run entry.Run) error {
	if run.After.Seq != 0 {
		return detached(run)
	}
	if run.After.Hash != entry.Origin(d.staff) {
		return fmt.Errorf("log %s: %w", run.Log, ErrOtherStaff)
	}
	first := run.Entries[0]
	if entry.LogOf(first.Hash) != run.Log {
		return fmt.Errorf("log %s: %w: the first entry belongs to another log", run.Log, ErrDetached)
	}
	l, err := newLog(len(d.logs)+1, run.Log[:], first.Body)
	if err != nil {
		return fmt.Errorf("log %s: %w: the first entry doesn't say whose log it is", run.Log, entry.ErrMalformed)
	}
	if err := d.admit(l); err != nil {
		return err
	}
	d.copyLogs()
	d.logs[l.id] = l
	d.tree.AddLog(l.id)
	n := d.addBranch(&branch{log: l, parent: noBranch, tip: run.After})
	d.rejudge = true
	return d.grow(n, run.Entries, run.Points)
}

// attachedAt finds the entry behind which a run begins.
func (d *draft) attachedAt(run entry.Run) (merge.Place, error) {
	if run.After.Seq == 0 {
		return merge.Place{Branch: d.tree.Of(run.Log)[0]}, nil
	}
	at, held, err := d.find(d.hashAt, run.Log, run.After)
	if err != nil {
		return at, err
	}
	if !held {
		return at, detached(run)
	}
	lamport, err := d.lamportAt(at)
	if err == nil && lamport != run.Lamport {
		err = detached(run)
	}
	return at, err
}

// skip walks along the entries that are held already.
func (d *draft) skip(at merge.Place, run entry.Run) (merge.Place, []entry.Entry, error) {
	for i, e := range run.Entries {
		next, held, err := d.follow(at, e.Point)
		if err != nil {
			return at, nil, err
		}
		if !held {
			return at, run.Entries[i:], nil
		}
		at = next
	}
	return at, nil, nil
}

// follow looks for an entry among those that follow a place.
func (d *draft) follow(at merge.Place, point entry.Point) (merge.Place, bool, error) {
	b := d.branches[at.Branch]
	if at.Seq == b.tip.Seq {
		return at, false, nil // no branch leaves another at its tip
	}
	next := merge.Place{Branch: at.Branch, Seq: at.Seq + 1}
	if h, err := d.hashAt(next); err != nil || h == point.Hash {
		return next, true, err
	}
	for _, n := range d.tree.Of(b.log.id) {
		if c := d.branches[n]; c.parent != at.Branch || c.fork != at.Seq {
			continue
		}
		next.Branch = n
		if h, err := d.hashAt(next); err != nil || h == point.Hash {
			return next, true, err
		}
	}
	return at, false, nil
}

// continuing returns the branch to which entries after a place belong: the
// one there if it ends there, else a new one. A fork is refused only where there
// are a great many: both sides were written by somebody.
func (d *draft) continuing(at merge.Place) (merge.Branch, error) {
	b := d.branches[at.Branch]
	if b.tip.Seq == at.Seq {
		return at.Branch, nil
	}
	if err := d.admit(b.log); err != nil {
		return noBranch, err
	}
	d.copyLogs()
	d.tree.AddFork(at)
	d.forked = append(d.forked, b.log.id)
	return d.addBranch(&branch{log: b.log, parent: at.Branch, fork: at.Seq, tip: entry.Point{Seq: at.Seq}}), nil
}

func (d *draft) addBranch(b *branch) merge.Branch {
	n := merge.Branch(len(d.branches))
	d.ownBranches()
	d.branches, d.owned[n] = append(d.branches, b), true
	d.branchesOf[b.log.device]++
	return n
}

// copyLogs makes what describes the logs this transaction's own.
func (d *draft) copyLogs() {
	if !d.ownLogs {
		d.ownLogs = true
		d.logs, d.branchesOf, d.tree = maps.Clone(d.logs), maps.Clone(d.branchesOf), d.grownTree()
	}
}

// ownBranches makes the list of branches this transaction's own.
func (d *draft) ownBranches() {
	if len(d.owned) == 0 {
		d.branches = slices.Clone(d.branches)
	}
}

// own makes a branch's description this transaction's own.
func (d *draft) own(n merge.Branch) *branch {
	if !d.owned[n] {
		d.ownBranches()
		b := *d.branches[n]
		d.branches[n], d.owned[n] = &b, true
	}
	return d.branches[n]
}

// grow adds entries behind a branch's tip.
func (d *draft) grow(n merge.Branch, entries []entry.Entry, points []entry.SignedPoint) error {
	g := d.growthOf(n)
	b := d.branches[n]
	last := entries[len(entries)-1]
	if len(points) == 0 || points[len(points)-1].Point != last.Point {
		return fmt.Errorf("log %s, entry %d: %w", b.log.id, last.Seq, entry.ErrUnsigned)
	}
	if last.Seq > below {
		return fmt.Errorf("log %s: %w: %d entries", b.log.id, entry.ErrMalformed, last.Seq)
	}
	before := b.tip.Seq
	g.entries = append(g.entries, entries...)
	for _, p := range points {
		if p.Seq > before {
			g.points = append(g.points, p)
		}
	}
	b.tip, b.lamport = last.Point, last.Header.Lamport
	d.lamport = max(d.lamport, b.lamport)
	return nil
}

// growthOf returns what a branch gains.
func (d *draft) growthOf(n merge.Branch) *growth {
	if g := d.grew[n]; g != nil {
		return g
	}
	b := d.own(n)
	g := &growth{n: n, first: b.tip.Seq + 1, fresh: b.tip.Seq == b.fork}
	d.growths, d.grew[n] = append(d.growths, g), g
	return g
}

// hashAt is the running hash of an entry that is held or about to be.
func (d *draft) hashAt(at merge.Place) (entry.Hash, error) {
	if g := d.grew[at.Branch]; g != nil && at.Seq >= g.first {
		return g.entries[at.Seq-g.first].Hash, nil
	}
	return d.read().hashAt(at)
}

func (d *draft) lamportAt(at merge.Place) (lamport uint64, err error) {
	if b := d.branches[at.Branch]; at.Seq == b.tip.Seq {
		return b.lamport, nil
	}
	if g := d.grew[at.Branch]; g != nil && at.Seq >= g.first {
		return g.entries[at.Seq-g.first].Header.Lamport, nil
	}
	return d.read().lamportAt(at)
}
