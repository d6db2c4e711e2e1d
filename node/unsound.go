package node

import (
	"errors"
	"fmt"
	"maps"
	"slices"

	"plumbline/sync/entry"
	"plumbline/sync/exchange"
)

// What no sound laptop sends. Whoever passes entries on has verified them, so
// the fault lies with the laptop at the other end of the link, whoever is named
// as their author.
var unsoundness = []error{
	entry.ErrMalformed, entry.ErrUnsigned, entry.ErrLamport, entry.ErrDigest, entry.ErrTooLarge,
	exchange.ErrMalformed, exchange.ErrTooMany, exchange.ErrAstray,
}

// suspect remembers until the next start that a laptop sent what doesn't hold.
// It is called with mu held.
func (n *Node) suspect(device entry.DeviceID, err error) {
	if slices.ContainsFunc(unsoundness, func(fault error) bool { return errors.Is(err, fault) }) {
		n.unsound[device] = err
	}
}

// suspicions names the laptops that sent what doesn't hold, one sentence each.
func (n *Node) suspicions(roster []Member) []string {
	n.mu.Lock()
	unsound := maps.Clone(n.unsound)
	n.mu.Unlock()
	var sentences []string
	for _, m := range roster {
		if err := unsound[m.Device]; err != nil && !m.Revoked {
			sentences = append(sentences, fmt.Sprintf("%s (%s) sent what doesn't hold, and nothing of it was kept (%v): "+
				"update plumbline there; if it goes on, revoke that laptop.", m.Author.Name, m.DeviceName, err))
		}
	}
	return sentences
}
