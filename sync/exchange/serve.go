package exchange

import (
	"errors"
	"fmt"
	"slices"

	"plumbline/sync/entry"
)

// A push carries the entries of small steps, a few keystrokes' worth; larger
// ones are announced and asked for at the receiver's pace.
const (
	maxPush        = 32 << 10
	maxPushEntries = 256
)

// list tells the tips of all control logs, or of all others.
func (s *Session) list(control bool) {
	var tips []Tip
	for _, t := range s.config.Holdings.Tips() {
		if t.Control {
			s.controlLogs[t.Log] = struct{}{}
		}
		if t.Control == control {
			tips = append(tips, t)
			s.met(t.Log, t.Point).told = true
		}
	}
	parts := batches(tips)
	if len(parts) == 0 {
		parts = [][]Tip{nil}
	}
	for i, part := range parts {
		last := i == len(parts)-1
		s.emit(Send{have{controlListed: last && control, allListed: last && !control, tips: part}.encode()})
	}
}

// offer tells the peer of a new tip, with its entries if they were written
// here, are few and attach to what the peer has. To a peer that has them it is the receipt.
func (s *Session) offer(tip Tip) {
	if tip.Control {
		s.controlLogs[tip.Log] = struct{}{}
	}
	if !s.mayTell(tip) {
		return
	}
	k := s.met(tip.Log, tip.Point)
	relayed := s.config.Claims.received[tip.Log] == tip.Point
	if k.told || !k.has && !relayed && s.push(tip) {
		return
	}
	s.tell(tip)
}

// mayTell reports whether the peer may hear of the tip: control logs always,
// others once the peer's control logs are judged.
func (s *Session) mayTell(tip Tip) bool { return s.openOthers || s.opened && tip.Control }

// tell announces the tip at the end of this call.
func (s *Session) tell(tip Tip) {
	if k := s.met(tip.Log, tip.Point); !k.told && s.mayTell(tip) {
		k.told = true
		s.unsentTips = append(s.unsentTips, tip)
	}
}

func (s *Session) push(tip Tip) bool {
	bases := s.bases(tip.Log, tip.Seq)
	if len(bases) == 0 && s.allListed {
		bases = []entry.Point{{}}
	}
	for _, base := range bases {
		if tip.Seq-base.Seq > maxPushEntries {
			return false
		}
		raws, points, err := s.config.Holdings.Range(tip.Log, base, tip.Point, maxPush)
		if err != nil {
			continue // another branch, or entries that only the peer holds
		}
		if uint64(len(raws)) < tip.Seq-base.Seq {
			return false
		}
		s.sendChunk(chunk{control: tip.Control, log: tip.Log, after: base, upto: tip.Point}, raws, points)
		return true
	}
	return false
}

func (s *Session) sendChunk(c chunk, raws []entry.Raw, points []entry.SignedPoint) {
	c.packed = pack(c.after, raws, points)
	s.met(c.log, c.upto).told = true
	s.emit(Send{c.encode()})
}

// last gives the peer what it hasn't said to hold of the control logs, a chunk of
// each at most, from where it can go on for sure. What it was pushed before may have
// been a hint to it, which it would have asked about; and where it has come further
// than this laptop, that may be on another branch.
func (s *Session) last() {
	for _, tip := range s.config.Holdings.Tips() {
		if !tip.Control {
			continue
		}
		if k := s.met(tip.Log, tip.Point); k.last || k.has || k.declined {
			continue
		}
		var held []entry.Point
		for _, k := range s.peer[tip.Log] {
			if k.has {
				held = append(held, k.Point)
			}
		}
		after, raws, points, err := s.following(want{log: tip.Log, target: tip.Point, held: held})
		if err != nil {
			s.fault(fmt.Errorf("read log %s for a peer: %w", tip.Log, err))
			return
		}
		if len(points) > 0 {
			s.sendChunk(chunk{control: true, log: tip.Log, after: after, upto: points[len(points)-1].Point}, raws, points)
		}
		s.met(tip.Log, tip.Point).last = true
	}
}

// takeWant answers with the next chunk after the highest point that the peer
// holds on the way to its target. The peer gets an answer in any case, so
// that it never waits for one.
func (s *Session) takeWant(w want) {
	_, control := s.controlLogs[w.log]
	answer := chunk{number: w.number, control: control, log: w.log, after: w.target, upto: w.target}
	if !s.mayTell(Tip{Log: w.log, Control: control}) {
		s.emit(Send{answer.encode()})
		return
	}
	after, raws, points, err := s.following(w)
	if err != nil {
		s.fault(fmt.Errorf("read log %s for a peer: %w", w.log, err))
		return
	}
	if len(points) == 0 {
		s.emit(Send{answer.encode()})
		return
	}
	answer.after, answer.upto = after, points[len(points)-1].Point
	s.sendChunk(answer, raws, points)
}

// following reads the chunk after the highest point that both laptops hold on
// the way to the target; none if the target isn't held.
func (s *Session) following(w want) (entry.Point, []entry.Raw, []entry.SignedPoint, error) {
	slices.SortFunc(w.held, higherFirst)
	for _, after := range append(w.held, entry.Point{}) {
		raws, points, err := s.config.Holdings.Range(w.log, after, w.target, MaxChunk)
		if errors.Is(err, ErrNotHeld) {
			continue
		}
		return after, raws, points, err
	}
	return entry.Point{}, nil, nil, nil
}

// fault ends the link for a failure of this side.
func (s *Session) fault(err error) {
	s.emit(Fail{Err: err})
	s.Close()
}

// takeDecline notes what the peer won't take, so that it doesn't count as
// still to be delivered.
func (s *Session) takeDecline(m decline) {
	for _, t := range m.tips {
		s.met(t.Log, t.Point).declined = true
	}
}

// sendTips announces and declines what this call has gathered.
func (s *Session) sendTips() {
	for _, part := range batches(s.unsentTips) {
		s.emit(Send{have{tips: part}.encode()})
	}
	for _, part := range batches(s.unsentNo) {
		s.emit(Send{decline{tips: part}.encode()})
	}
	s.unsentTips, s.unsentNo = nil, nil
}
