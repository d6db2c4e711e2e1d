package storage

import (
	"context"
	"crypto/ed25519"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// BranchInfo describes one branch of a log.
type BranchInfo struct {
	Branch  merge.Branch
	Log     entry.LogID
	Device  entry.DeviceID
	Key     ed25519.PublicKey // the device's
	Control bool
	// Forked is set for a branch that leaves another one: a cloned disk.
	Forked   bool
	Fork     uint64 // the last entry that it shares with that one
	Tip      entry.Point
	Lamport  uint64
	Standing merge.Standing
	Span     merge.Span
}

// Empty reports whether nothing at all was ever written here.
func (s *Store) Empty() bool { return len(s.held.Load().branches) == 0 }

// Branches describes every branch of every log, in the order of arrival.
func (s *Store) Branches() []BranchInfo {
	m := s.held.Load()
	infos := make([]BranchInfo, len(m.branches))
	for n, b := range m.branches {
		infos[n] = BranchInfo{
			Branch: merge.Branch(n), Log: b.log.id, Device: b.log.device, Key: b.log.genesis.Device,
			Control: b.log.genesis.Control, Forked: b.parent != noBranch, Fork: b.fork, Tip: b.tip, Lamport: b.lamport,
			Standing: m.verdict.Standing(b.log.id), Span: b.span,
		}
	}
	return infos
}

// Author says what a log may do, whose it is, and from which device; false
// for a log that isn't held.
func (s *Store) Author(log entry.LogID) (merge.Standing, entry.DeviceID, bool) {
	m := s.held.Load()
	l := m.logs[log]
	if l == nil {
		return merge.Standing{}, entry.DeviceID{}, false
	}
	return m.verdict.Standing(log), l.device, true
}

// Counts says how much there is.
type Counts struct {
	Entries, Logs, Branches int
	// Conflicted and Disputed count records, Unapplied entries.
	Conflicted, Disputed, Unapplied int
}

// Counts counts.
func (s *Store) Counts(ctx context.Context) (Counts, error) {
	m := s.held.Load()
	c := Counts{Logs: len(m.logs), Branches: len(m.branches)}
	for _, b := range m.branches {
		c.Entries += int(b.tip.Seq - b.fork)
	}
	_, err := s.readers.bind(ctx).one(`SELECT (SELECT count(*) FROM record WHERE conflicts > 0),
		(SELECT count(*) FROM record WHERE retirements > 0 AND visibility = ?),
		(SELECT count(*) FROM entry WHERE status <> 1)`,
		[]any{merge.Disputed}, &c.Conflicted, &c.Disputed, &c.Unapplied)
	return c, failure("count", err)
}
