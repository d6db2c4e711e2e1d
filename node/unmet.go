package node

import (
	"encoding/json"
	"slices"
)

// Arrival is how a laptop came to what it holds.
type Arrival string

// The arrivals after which a laptop lacks what the others hold, until it meets one.
const (
	Joined   Arrival = "joined"
	Restored Arrival = "restored"
)

// unmetMeta keeps the arrival since which no other laptop was met.
const unmetMeta = "unmet"

// unmetSince is empty for a laptop that has met another one since. What doesn't hold
// here is no harm: it only isn't said.
func (n *Node) unmetSince() (a Arrival) {
	if data, err := n.store.Meta(n.ctx, unmetMeta); err != nil || json.Unmarshal(data, &a) != nil {
		return ""
	}
	return a
}

// meet notes that another laptop was met.
func (n *Node) meet() {
	if n.unmetSince() != "" {
		n.keepMeta(unmetMeta, Arrival(""))
	}
}

// unmet is unmetSince where there is somebody to meet.
func (n *Node) unmet(peers []PeerStatus) Arrival {
	linked := func(p PeerStatus) bool { return p.Linked }
	other := func(p PeerStatus) bool { return !p.Revoked }
	if !slices.ContainsFunc(peers, other) || slices.ContainsFunc(peers, linked) {
		return ""
	}
	return n.unmetSince()
}
