package exchange

import (
	"bytes"
	"maps"
	"slices"

	"plumbline/sync/entry"
)

// maxRefused is how many refused tips of a log are kept to be looked at again.
const maxRefused = 16

// drop gives up one target of a pull.
func (s *Session) drop(p *pull, target entry.Point, err error) {
	s.untarget(p, target)
	s.refuse(Tip{Log: p.log, Point: target, Control: p.control}, err)
}

// refuse turns a tip down until the control logs have something new to say.
func (s *Session) refuse(tip Tip, err error) {
	s.unsentNo = append(s.unsentNo, tip)
	tips := s.refused[tip.Log]
	if slices.Contains(tips, tip) {
		return
	}
	s.emit(Refuse{Tip: tip, Err: err})
	if len(tips) == maxRefused {
		tips = slices.Delete(tips, 0, 1)
		s.kept--
	}
	s.refused[tip.Log] = append(tips, tip)
	s.kept++
}

// reconsider makes refused tips targets again, if they are wanted by now.
func (s *Session) reconsider() {
	for _, log := range slices.SortedFunc(maps.Keys(s.refused), compareLogs) {
		for _, tip := range slices.Clone(s.refused[log]) {
			if s.config.Holdings.Wants(tip) {
				s.unrefuse(tip)
				s.want(tip)
			}
		}
	}
}

func (s *Session) unrefuse(tip Tip) {
	tips := slices.DeleteFunc(s.refused[tip.Log], func(t Tip) bool { return t == tip })
	s.kept--
	if s.refused[tip.Log] = tips; len(tips) == 0 {
		delete(s.refused, tip.Log)
	}
}

// distrust turns a whole log down for the rest of the link: what the peer
// gave of it doesn't hold. Other logs go on, and so does this one over links
// to others; the reason may be no worse than a program that is too old.
func (s *Session) distrust(p *pull, err error) {
	s.distrusted[p.log] = struct{}{}
	for _, target := range p.targets {
		tip := Tip{Log: p.log, Point: target, Control: p.control}
		s.unsentNo = append(s.unsentNo, tip)
		s.emit(Refuse{Tip: tip, Err: err})
	}
	s.kept -= len(p.targets)
	p.targets, p.broken = nil, true
}

// compareLogs gives logs an order, so that a session does the same whenever
// it is told the same.
func compareLogs(a, b entry.LogID) int { return bytes.Compare(a[:], b[:]) }
