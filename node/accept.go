package node

import (
	"context"
	"maps"
	"slices"

	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Accept raises the cuts of laptops: what they wrote after their standing ended
// counts, as far as the caller was shown it by SetAside, whose AsOf it is. What
// came in since, and what they write later, still doesn't.
func (n *Node) Accept(ctx context.Context, who, asOf string) ([]entry.DeviceID, error) {
	devices, drafts, err := n.acceptance(ctx, who, asOf)
	if err != nil {
		return nil, err
	}
	return devices, n.save(drafts...)
}

// Acceptable returns the laptops that Accept would let count more of, or its
// refusal, and changes nothing.
func (n *Node) Acceptable(ctx context.Context, who, asOf string) ([]entry.DeviceID, error) {
	devices, _, err := n.acceptance(ctx, who, asOf)
	return devices, err
}

// acceptance drafts what raises the cuts.
func (n *Node) acceptance(ctx context.Context, who, asOf string) (devices []entry.DeviceID, drafts []Draft, err error) {
	own, err := n.director()
	if err != nil {
		return nil, nil, err
	}
	members, err := n.members(ctx, who)
	if err != nil {
		return nil, nil, err
	}
	listed, err := n.listed(ctx, asOf)
	if err != nil {
		return nil, nil, err
	}
	for _, m := range members {
		shown := listed[m.Device]
		if len(shown) == 0 {
			continue
		}
		raised, ok := Raise(n.store.Verdict(), m.Device, own.Rank(), shown)
		if !ok {
			return nil, nil, refuse(ErrRights, "somebody of higher rank ended the standing of %s: only they, or the staff's root, can let more of it count", LaptopOf(m.Author.Name, m.DeviceName))
		}
		if len(raised) > 0 {
			drafts, devices = append(drafts, raised...), append(devices, m.Device)
		}
	}
	if len(drafts) == 0 {
		return nil, nil, refuse(ErrInvalid, "nothing of %q that was listed is set aside by a cut", who)
	}
	return devices, drafts, nil
}

// listed reads what SetAside answered with its list.
func (n *Node) listed(ctx context.Context, asOf string) (map[entry.DeviceID][]entry.ID, error) {
	if asOf == "" {
		return nil, refuse(ErrUnseen, "this doesn't say what of it was read, and nothing else comes to count: pass as_of, which SetAside answers with what it lists")
	}
	read, err := ParseReading(asOf)
	if err != nil {
		return nil, err
	}
	return read.Listed(ctx, n.store)
}

// ReadListed is the reading of who reads a list of what is set aside, in which the
// entries of each branch come by number.
func ReadListed(entries []storage.HistoryEntry) Reading {
	last := map[merge.Branch]entry.ID{}
	for _, e := range entries {
		last[e.Place.Branch] = e.ID
	}
	return Reading{Read: entry.Retirement{Heads: slices.Collect(maps.Values(last))}}
}

// Listed returns, by laptop, the last entry of each branch that was listed, where
// it still lies beyond what was accepted.
func (r Reading) Listed(ctx context.Context, held Evidence) (map[entry.DeviceID][]entry.ID, error) {
	if len(r.Records) > 0 {
		return nil, refuse(ErrInvalid, "as_of was answered for a record: pass the one that SetAside answers with what it lists")
	}
	if err := r.holds(ctx, held); err != nil {
		return nil, err
	}
	listed := map[entry.DeviceID][]entry.ID{}
	for _, id := range r.Read.Heads {
		at, known, err := held.Locate(ctx, id)
		if err != nil {
			return nil, err
		}
		if b := held.Branches()[at.Branch]; known && id.Seq > b.Span.Full {
			listed[b.Device] = append(listed[b.Device], id)
		}
	}
	return listed, nil
}

// Raise drafts what lets count what was listed of a laptop: each cut of it that
// stands is raised. It reports false where an author of higher rank wrote one.
func Raise(v *merge.Verdict, device entry.DeviceID, by entry.Rank, listed []entry.ID) (drafts []Draft, ok bool) {
	for _, cut := range v.Cuts {
		if cut.Body.Device != device {
			continue
		}
		if cut.Author.Above(by) {
			return nil, false
		}
		raised := raised(cut, listed)
		drafts = append(drafts, Draft{Body: entry.Body{Kind: entry.KindCut, Cut: &raised}})
	}
	return drafts, true
}

// raised is a cut that leaves what was listed, too. Each cut is raised by one of
// its own, since one that takes all rights can't be raised by one that leaves some.
// Heads that aren't held stay named: nothing that was accepted may be shut out.
func raised(cut merge.Cut, listed []entry.ID) entry.Cut {
	heads := slices.Clone(cut.Body.Heads)
	for _, head := range listed {
		if !slices.Contains(heads, head) {
			heads = append(heads, head)
		}
	}
	slices.SortFunc(heads, entry.ID.Compare)
	return entry.Cut{Device: cut.Body.Device, Beyond: cut.Body.Beyond, Heads: heads, Replaces: []entry.ID{cut.ID}}
}
