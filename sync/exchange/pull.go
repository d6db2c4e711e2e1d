package exchange

import (
	"fmt"
	"slices"

	"plumbline/sync/entry"
)

// pull is what goes on about one log of which the peer holds more. Branches
// are pulled one after the other, the longest first, since it mostly holds
// the others.
type pull struct {
	log     entry.LogID
	control bool
	targets []entry.Point // announced, not held; rising
	// target is the one that is being pulled.
	target entry.Point
	// asked is the number of the want in flight, 0 for none.
	asked uint64
	// pending holds the ends of the runs that wait to be stored, in order;
	// next is where their successor attaches, nil when the holdings say it.
	pending []entry.Point
	next    *entry.Source
	// broken drops what still comes of a chain that couldn't be stored.
	broken bool
	queued bool
}

func (p *pull) idle() bool { return p.asked == 0 && len(p.pending) == 0 }

// underway reports whether a target has been pulled in part.
func (p *pull) underway() bool {
	return p.next != nil && p.next.After != p.target && slices.Contains(p.targets, p.target)
}

// more reports whether there is something to ask for now. A target that waits to be
// stored is here; one below it may be part of it, which can be told only then.
func (p *pull) more() bool {
	if len(p.targets) == 0 || p.underway() {
		return len(p.targets) > 0
	}
	top := p.targets[len(p.targets)-1]
	return !slices.Contains(p.pending, top) && (p.next == nil || top.Seq > p.next.After.Seq)
}

// takeHave notes what the peer holds and what of it to pull.
func (s *Session) takeHave(m have) {
	for _, t := range m.tips {
		k := s.met(t.Log, t.Point)
		k.has, k.declined = true, false
		s.want(t)
	}
	s.controlListed = s.controlListed || m.controlListed
	s.allListed = s.allListed || m.allListed
}

// want makes a tip a target, unless it is held, on its way or turned down.
func (s *Session) want(tip Tip) {
	p := s.pulls[tip.Log]
	if s.config.Holdings.Holds(tip.Log, tip.Point) ||
		p != nil && (slices.Contains(p.targets, tip.Point) || slices.Contains(p.pending, tip.Point)) {
		return
	}
	if _, bad := s.distrusted[tip.Log]; bad {
		s.unsentNo = append(s.unsentNo, tip)
		return
	}
	if !s.config.Holdings.Wants(tip) {
		s.refuse(tip, ErrFull)
		return
	}
	if p == nil {
		p = &pull{log: tip.Log}
		s.pulls[tip.Log] = p
	}
	if tip.Control && !p.control {
		if p.queued {
			s.others.remove(p)
			s.control.add(p)
		}
		p.control = true
		s.openControl++
	}
	s.aim(p, tip.Point)
	s.enqueue(p)
}

func (s *Session) aim(p *pull, at entry.Point) {
	i, _ := slices.BinarySearchFunc(p.targets, at, func(a, b entry.Point) int { return higherFirst(b, a) })
	p.targets = slices.Insert(p.targets, i, at)
	s.kept++
}

// enqueue puts a pull in line: at the front one that is under way, so that
// logs are finished one after the other.
func (s *Session) enqueue(p *pull) {
	if p.queued || p.asked != 0 || p.broken || !p.more() {
		return
	}
	p.queued = true
	s.line(p.control).add(p)
}

// ask sends wants while there is something to ask for and room for it.
func (s *Session) ask() {
	for s.wants < s.config.Wants && s.wants+s.unstored < s.config.Window {
		p := s.dequeue()
		if p == nil {
			return
		}
		s.askFor(p)
	}
}

// dequeue takes the next pull that may go on: those of control logs first,
// the others once the control logs are settled, none that another session of
// this laptop is busy with.
func (s *Session) dequeue() *pull {
	p := s.control.take(s.mayAsk)
	if p == nil && s.controlSettled() {
		p = s.others.take(s.mayAsk)
	}
	if p != nil {
		p.queued = false
	}
	return p
}

func (s *Session) mayAsk(p *pull) bool { return s.config.Claims.take(p.log, s) }

func (s *Session) line(control bool) *line {
	if control {
		return &s.control
	}
	return &s.others
}

// askFor asks for the next chunk of a pull. While it goes on towards one
// target, the chunk before says where; else the peer finds the fork among
// samples of all that is held or on its way.
func (s *Session) askFor(p *pull) {
	target, ok := s.choose(p)
	if !ok {
		s.finish(p)
		return
	}
	var held []entry.Point
	if p.next != nil {
		held = append(held, p.next.After)
	}
	if p.next == nil || target != p.target {
		held = append(held, s.samples(p.log)...)
	}
	s.number++
	s.wants++
	p.target, p.asked = target, s.number
	s.emit(Send{want{number: p.asked, log: p.log, target: target, held: held[:min(len(held), maxSamples)]}.encode()})
}

// choose returns the target to go for: the one that is being pulled until it
// is reached, else the highest.
func (s *Session) choose(p *pull) (entry.Point, bool) {
	for s.prune(p); p.more(); s.prune(p) {
		target := p.targets[len(p.targets)-1]
		if p.underway() {
			target = p.target
		}
		if s.config.Holdings.Wants(Tip{Log: p.log, Point: target, Control: p.control}) {
			return target, true
		}
		s.drop(p, target, ErrFull)
	}
	return entry.Point{}, false
}

func (s *Session) samples(log entry.LogID) []entry.Point {
	var held []entry.Point
	for _, t := range s.config.Holdings.TipsOf(log) {
		held = append(held, s.config.Holdings.Samples(log, t.Point)...)
	}
	return held
}

// takeChunk takes entries that were asked for, or pushed.
func (s *Session) takeChunk(c chunk) {
	p := s.pulls[c.log]
	if p == nil || p.asked == 0 || p.asked != c.number {
		s.takePush(c)
		return
	}
	p.asked = 0
	s.wants--
	switch {
	case p.broken: // the chain before it is lost; it is asked for again
	case c.after == c.upto:
		s.untarget(p, p.target) // the peer has it no more
	default:
		s.takeRun(p, c)
	}
	s.finish(p)
}

// takePush takes entries that the peer sends by itself. What can't be used at
// once is a hint that there is more to ask for. It is also where an answer
// ends up that comes twice.
func (s *Session) takePush(c chunk) {
	if c.after == c.upto || c.upto.Seq == 0 {
		return
	}
	tip := Tip{Log: c.log, Point: c.upto, Control: c.control}
	s.met(c.log, c.upto).has = true
	s.want(tip)
	p := s.pulls[c.log]
	if p == nil || p.broken || !slices.Contains(p.targets, c.upto) || slices.Contains(p.pending, c.upto) ||
		s.wants+s.unstored >= s.config.Window || !c.control && !s.controlSettled() || !s.attaches(p, c.after) {
		return
	}
	s.config.Claims.take(c.log, s) // if another peer was asked for it, it's here all the same
	target, next := p.target, p.next
	p.target = c.upto
	s.takeRun(p, c)
	if p.asked != 0 {
		p.target, p.next = target, next // the answer attaches where it would have
	}
	s.finish(p)
}

func (s *Session) attaches(p *pull, after entry.Point) bool {
	_, ok := s.source(p, after)
	return ok
}

// source returns where a run attaches: to the run before it, which may still
// wait to be stored, or to what is held.
func (s *Session) source(p *pull, after entry.Point) (entry.Source, bool) {
	if p.next != nil && p.next.After == after {
		return *p.next, true
	}
	return s.config.Holdings.Source(p.log, after)
}

// takeRun verifies a chunk and hands over what of it isn't held.
func (s *Session) takeRun(p *pull, c chunk) {
	run, next, err := s.verify(p, c)
	if err != nil {
		s.distrust(p, fmt.Errorf("log %s from the peer: %w", p.log, err))
		return
	}
	p.next = &next
	s.met(p.log, next.After).has = true
	run = Missing(s.config.Holdings, run)
	if len(run.Entries) > 0 {
		p.pending = append(p.pending, next.After)
		s.unstored++
		s.emit(Store{run})
	}
	if next.After.Seq >= p.target.Seq && next.After != p.target {
		s.drop(p, p.target, ErrAstray)
	}
}

func (s *Session) verify(p *pull, c chunk) (entry.Run, entry.Source, error) {
	src, ok := s.source(p, c.after)
	if !ok {
		return entry.Run{}, src, ErrAstray
	}
	raws, points, err := unpack(c.after, c.packed)
	if err != nil {
		return entry.Run{}, src, err
	}
	run, err := entry.Verify(src, raws, points)
	if err != nil {
		return entry.Run{}, src, err
	}
	if len(run.Entries) == 0 || run.Tip() != c.upto {
		return entry.Run{}, src, ErrAstray
	}
	next, err := follow(src, run)
	return run, next, err
}

// follow returns where the successor of a verified run attaches.
func follow(src entry.Source, run entry.Run) (entry.Source, error) {
	if src.After.Seq == 0 {
		body, err := entry.DecodeBody(run.Entries[0].Body)
		if err != nil {
			return src, err
		}
		src.Device = body.Genesis.Device
	}
	last := run.Entries[len(run.Entries)-1]
	src.After, src.Lamport = last.Point, last.Header.Lamport
	return src, nil
}

// takeOutcome notes that a run was stored, or gives up what it led to.
func (s *Session) takeOutcome(run entry.Run, err error) {
	p := s.pulls[run.Log]
	if p == nil || len(p.pending) == 0 {
		return
	}
	p.pending = p.pending[1:]
	s.unstored--
	if err == nil && !s.config.Holdings.Holds(run.Log, run.Tip()) {
		err = fmt.Errorf("log %s, entry %d, was stored: %w", run.Log, run.Tip().Seq, ErrNotHeld)
	}
	if err != nil {
		p.broken = true
		s.drop(p, p.target, err)
	} else {
		s.config.Claims.received[run.Log] = run.Tip()
		s.tell(Tip{Log: run.Log, Point: run.Tip(), Control: p.control})
	}
	s.finish(p)
}

// finish goes on with a pull, or ends it when nothing is left of it.
func (s *Session) finish(p *pull) {
	s.prune(p)
	if p.idle() {
		if p.broken || !slices.Contains(p.targets, p.target) {
			p.next, p.broken = nil, false
		}
		if len(p.targets) == 0 {
			s.end(p)
			return
		}
	}
	s.enqueue(p)
}

func (s *Session) end(p *pull) {
	delete(s.pulls, p.log)
	s.wake = s.config.Claims.release(p.log, s) || s.wake
	if p.queued {
		s.line(p.control).remove(p)
	}
	if p.control {
		s.openControl--
	}
}

// prune drops targets that are held by now. It looks at both ends only: what
// lies between them comes to an end in its turn.
func (s *Session) prune(p *pull) {
	held := func(at entry.Point) bool { return s.config.Holdings.Holds(p.log, at) }
	before := len(p.targets)
	for len(p.targets) > 0 && held(p.targets[0]) {
		p.targets = p.targets[1:]
	}
	for len(p.targets) > 0 && held(p.targets[len(p.targets)-1]) {
		p.targets = p.targets[:len(p.targets)-1]
	}
	s.kept -= before - len(p.targets)
}

func (s *Session) untarget(p *pull, target entry.Point) {
	if i := slices.Index(p.targets, target); i >= 0 {
		p.targets = slices.Delete(p.targets, i, i+1)
		s.kept--
	}
}
