package exchange

import "plumbline/sync/entry"

// Behind is how many entries the peer has announced that aren't stored here.
// Of a branch whose fork isn't known yet it counts at least one.
func (s *Session) Behind() uint64 {
	if len(s.pulls) == 0 {
		return 0
	}
	held := map[entry.LogID]uint64{}
	for _, t := range s.config.Holdings.Tips() {
		held[t.Log] = max(held[t.Log], t.Seq)
	}
	var n uint64
	for log, p := range s.pulls {
		if len(p.targets) == 0 {
			continue
		}
		top := p.targets[len(p.targets)-1].Seq
		n += max(1, top-min(top, held[log]))
	}
	return n
}

// Ahead is how many entries are held here that the peer hasn't said to have
// stored, without those that it declined.
func (s *Session) Ahead() uint64 {
	var n uint64
	for _, t := range s.config.Holdings.Tips() {
		n += s.undelivered(t)
	}
	return n
}

func (s *Session) undelivered(tip Tip) uint64 {
	var base uint64
	for _, k := range s.peer[tip.Log] {
		switch {
		case k.Point == tip.Point && (k.has || k.declined):
			return 0
		case !k.has:
		case k.Seq < tip.Seq:
			base = max(base, k.Seq)
		case !s.config.Holdings.Holds(tip.Log, k.Point):
			return 0 // further than here, most likely on this branch
		}
	}
	return tip.Seq - base
}

// Synced reports whether each has told the other what it holds, and both hold
// the same, but for what one of them refuses.
func (s *Session) Synced() bool {
	return !s.ended && s.openOthers && s.allListed && len(s.pulls) == 0 && s.Ahead() == 0
}
