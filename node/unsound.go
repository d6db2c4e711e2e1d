package node

import (
	"errors"
	"fmt"
	"maps"
	"slices"

	"plumbline/storage"
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
			sentences = append(sentences, fmt.Sprintf("%s sent what doesn't hold, and nothing of it was kept (%v): "+
				"update plumbline there; if it goes on, revoke that laptop.", LaptopOf(m.Author.Name, m.DeviceName), err))
		}
	}
	return sentences
}

// crowded names the laptops that have opened more logs than any needs.
func (n *Node) crowded(roster []Member, own entry.DeviceID) []string {
	var sentences []string
	full := n.store.Crowded()
	for _, m := range roster {
		switch {
		case !slices.Contains(full, m.Device) || m.Revoked:
		case m.Device == own:
			sentences = append(sentences, fmt.Sprintf("This laptop has opened %d logs, one after each crash, and the others take no more of them: "+
				"before it crashes again, let it join anew with plumbline --state NEWFOLDER join ADDRESS WORD.", storage.LogsLimit))
		default:
			sentences = append(sentences, fmt.Sprintf("%s has opened %d logs, more than any laptop needs. Those are kept, no more are taken: "+
				"find out what goes on there, and let that laptop join anew or revoke it.", LaptopOf(m.Author.Name, m.DeviceName), storage.LogsLimit))
		}
	}
	return sentences
}
