package node

import "time"

const (
	// silentLook is how often links are looked at on which an answer is awaited.
	silentLook = 30 * time.Second
	// silentLooks is at how many looks one after the other the same answer may be
	// missing: the other laptop may be busy for a minute, or the network slow.
	silentLooks = 4
)

// silence holds the wants that were found without an answer, by link.
type silence map[LinkID]unanswered

type unanswered struct {
	want  uint64
	looks int
}

// dropSilent ends links on which entries were asked for and no answer comes. What is
// asked of one laptop is asked of no other one meanwhile, and nothing else before the
// control logs: whoever announced more of one and then said nothing would keep away all
// that others have, even the control entry by which they are cut.
func (n *Node) dropSilent() {
	for s := (silence{}); ; {
		select {
		case <-n.ctx.Done():
			return
		case <-time.After(silentLook):
		}
		n.lookForSilence(s)
	}
}

func (n *Node) lookForSilence(s silence) {
	n.mu.Lock()
	defer n.mu.Unlock()
	for link := range s {
		if n.links[link] == nil {
			delete(s, link)
		}
	}
	for id, l := range n.links {
		if session := n.core.Session(id); session != nil && s.tooLong(id, session.Awaits()) {
			l.link.Close("it was asked for entries and doesn't answer")
		}
	}
}

// tooLong notes which want is the oldest without an answer, 0 for none, and reports
// whether it has been for too long.
func (s silence) tooLong(link LinkID, want uint64) bool {
	if before := s[link]; want != 0 && before.want == want {
		s[link] = unanswered{want, before.looks + 1}
	} else {
		s[link] = unanswered{want, 1}
	}
	return want != 0 && s[link].looks > silentLooks
}
