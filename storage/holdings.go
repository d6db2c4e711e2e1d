package storage

import (
	"context"
	"fmt"

	"plumbline/sync/entry"
	"plumbline/sync/exchange"
	"plumbline/sync/merge"
)

// A store is what a session of the exchange reads.
var _ exchange.Holdings = (*Store)(nil)

// reader answers questions of the exchange, which has no context of its own:
// they are short, and a closed store ends them.
func (s *Store) reader() querier { return s.readers.bind(context.Background()) }

// find finds an entry; a read that fails counts as not held, since all that
// follows is that it is asked for again.
func (s *Store) find(m *memory, log entry.LogID, at entry.Point) (merge.Place, bool) {
	if at.Seq == 0 {
		return merge.Place{}, false
	}
	p, held, err := m.find(s.reader().hashAt, log, at)
	return p, held && err == nil
}

// Tips returns the tip of every branch.
func (s *Store) Tips() []exchange.Tip {
	m := s.held.Load()
	tips := make([]exchange.Tip, len(m.branches))
	for n := range m.branches {
		tips[n] = m.tip(merge.Branch(n))
	}
	return tips
}

// TipsOf returns the tips of the branches of a log.
func (s *Store) TipsOf(log entry.LogID) (tips []exchange.Tip) {
	m := s.held.Load()
	for _, n := range m.tree.Of(log) {
		tips = append(tips, m.tip(n))
	}
	return tips
}

func (m *memory) tip(n merge.Branch) exchange.Tip {
	b := m.branches[n]
	return exchange.Tip{Log: b.log.id, Point: b.tip, Control: b.log.genesis.Control}
}

// Holds reports whether exactly this entry is held, on any branch.
func (s *Store) Holds(log entry.LogID, at entry.Point) bool {
	_, held := s.find(s.held.Load(), log, at)
	return held
}

// Samples returns points of the branch that ends at the tip, at growing
// distance back from it.
func (s *Store) Samples(log entry.LogID, tip entry.Point) []entry.Point {
	m := s.held.Load()
	at, held := s.find(m, log, tip)
	if !held {
		return nil
	}
	path := m.path(at)
	var points []entry.Point
	for seq := range exchange.Back(tip.Seq) {
		p, _ := on(path, seq)
		hash, err := s.reader().hashAt(p)
		if err != nil {
			return nil
		}
		points = append(points, entry.Point{Seq: seq, Hash: hash})
	}
	return points
}

// Source returns what checking a run takes that attaches at the point.
func (s *Store) Source(log entry.LogID, after entry.Point) (entry.Source, bool) {
	m := s.held.Load()
	src := entry.Source{Staff: m.staff, Log: log, After: entry.Point{Hash: entry.Origin(m.staff)}}
	if after.Seq == 0 {
		return src, true
	}
	at, held := s.find(m, log, after)
	if !held {
		return entry.Source{}, false
	}
	src.After, src.Device = after, m.logs[log].genesis.Device
	if b := m.branches[at.Branch]; b.tip.Seq == at.Seq {
		src.Lamport = b.lamport
		return src, true
	}
	lamport, err := s.reader().lamportAt(at)
	src.Lamport = lamport
	return src, err == nil
}

// Wants reports whether more of a branch may be stored: not where a device
// without standing has used up its space, unless a cut or a retirement waits
// for what is asked for, and not where it has opened too many logs.
func (s *Store) Wants(tip exchange.Tip) bool {
	m := s.held.Load()
	log := m.logs[tip.Log]
	if log == nil {
		return !s.turned.has(tip.Log) || m.cutNames(tip.Log)
	}
	if m.hasRoom(log.device, 1) {
		return true
	}
	for _, n := range m.tree.Of(tip.Log) {
		if b := m.branches[n]; b.tip.Seq < b.free {
			return true
		}
	}
	return false
}

// Range returns entries behind a point, up to a signed one.
func (s *Store) Range(log entry.LogID, after, upto entry.Point, size int) ([]entry.Raw, []entry.SignedPoint, error) {
	m := s.held.Load()
	notHeld := fmt.Errorf("log %s, entries %d to %d: %w", log, after.Seq+1, upto.Seq, exchange.ErrNotHeld)
	to, held := s.find(m, log, upto)
	if !held || after.Seq > upto.Seq {
		return nil, nil, notHeld
	}
	path := m.path(to)
	if from, ok := on(path, after.Seq); ok {
		if at, held := s.find(m, log, after); !held || at != from {
			return nil, nil, notHeld
		}
	} else if after.Seq > 0 {
		return nil, nil, notHeld
	}
	raws, points, err := s.reader().rangeOf(path, after.Seq, size)
	return raws, points, failure("read entries", err)
}

// rangeOf reads along a path what fits and ends at a signed point.
func (q querier) rangeOf(path []stretch, after uint64, size int) ([]entry.Raw, []entry.SignedPoint, error) {
	var raws []entry.Raw
	var points []entry.SignedPoint
	for _, s := range path {
		if s.last <= after {
			continue
		}
		s.first = max(s.first, after+1)
		read, err := q.rawOf(s, size)
		if err != nil {
			return nil, nil, err
		}
		for _, raw := range read {
			size -= raw.Size()
		}
		raws = append(raws, read...)
		full := s.first+uint64(len(read)) <= s.last
		s.last = s.first + uint64(len(read)) - 1
		signed, err := q.pointsOf(s)
		if err != nil {
			return nil, nil, err
		}
		if points = append(points, signed...); full {
			break
		}
	}
	whole := 0
	if len(points) > 0 {
		whole = int(points[len(points)-1].Seq - after)
	}
	return raws[:whole], points, nil
}

// rawOf reads the entries of a stretch while they fit.
func (q querier) rawOf(s stretch, size int) ([]entry.Raw, error) {
	var raws []entry.Raw
	err := q(func(scan func(...any) error) error {
		var raw entry.Raw
		if err := scan(&raw.Header, &raw.Body); err != nil {
			return err
		}
		if size -= raw.Size(); size < 0 {
			return errEnough
		}
		raws = append(raws, raw)
		return nil
	}, "SELECT header, body FROM entry WHERE n BETWEEN ? AND ? ORDER BY n",
		keyOf(merge.Place{Branch: s.branch, Seq: s.first}), keyOf(merge.Place{Branch: s.branch, Seq: s.last}))
	return raws, err
}

func (q querier) pointsOf(s stretch) ([]entry.SignedPoint, error) {
	var points []entry.SignedPoint
	err := q(func(scan func(...any) error) error {
		var p entry.SignedPoint
		var hash []byte
		err := scan(&p.Seq, &hash, &p.Signature)
		copy(p.Hash[:], hash)
		points = append(points, p)
		return err
	}, "SELECT seq, hash, signature FROM point WHERE branch = ? AND seq BETWEEN ? AND ? ORDER BY seq", s.branch, s.first, s.last)
	return points, err
}
