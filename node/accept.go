package node

import (
	"context"
	"slices"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Accept raises the cuts of laptops: what they wrote after their standing ended
// counts, as far as this laptop holds it. What they write later still doesn't.
func (n *Node) Accept(ctx context.Context, who string) ([]entry.DeviceID, error) {
	own, err := n.director()
	if err != nil {
		return nil, err
	}
	members, err := n.members(ctx, who)
	if err != nil {
		return nil, err
	}
	var drafts []Draft
	var devices []entry.DeviceID
	for _, m := range members {
		before := len(drafts)
		for _, cut := range n.store.Verdict().Cuts {
			if cut.Body.Device != m.Device {
				continue
			}
			raised := n.raised(cut)
			if len(raised.Heads) == len(cut.Body.Heads) {
				continue // nothing came beyond it
			}
			if cut.Author.Above(own.Rank()) {
				return nil, refuse(ErrRights, "somebody of higher rank ended the standing of %s's laptop %s: only they, or the staff's root, can let more of it count", m.Author.Name, m.DeviceName)
			}
			drafts = append(drafts, Draft{Body: entry.Body{Kind: entry.KindCut, Cut: &raised}})
		}
		if len(drafts) > before {
			devices = append(devices, m.Device)
		}
	}
	if len(drafts) == 0 {
		return nil, refuse(ErrInvalid, "nothing of %q is set aside by a cut here", who)
	}
	return devices, n.save(drafts...)
}

// raised is a cut that leaves all that is held here. Each cut is raised by one of
// its own, since one that takes all rights can't be raised by one that leaves some.
// Heads that aren't held stay named: nothing that was accepted may be shut out.
func (n *Node) raised(cut merge.Cut) entry.Cut {
	heads := slices.Clone(cut.Body.Heads)
	for _, head := range n.headsOf(cut.Body.Device) {
		if !slices.Contains(heads, head) {
			heads = append(heads, head)
		}
	}
	slices.SortFunc(heads, entry.ID.Compare)
	return entry.Cut{Device: cut.Body.Device, Beyond: cut.Body.Beyond, Heads: heads, Replaces: []entry.ID{cut.ID}}
}
