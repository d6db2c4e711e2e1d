package node

import (
	"context"
	"maps"
	"slices"
	"strings"

	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Acceptance is what accepting does, or would do.
type Acceptance struct {
	// Devices are the laptops of which more counts.
	Devices []entry.DeviceID
	// Rights say, each in words, what comes into force with the control entries
	// among what was listed: who comes by which rights, whose standing ends, what is
	// erased. They do so only if they were asked for.
	Rights []string
}

// Accept raises the cuts of laptops: what they wrote after their standing ended
// counts, as far as the caller was shown it by SetAside, whose AsOf it is. What
// came in since, and what they write later, still doesn't. What stands in their
// control logs decides who may what: it is left where it is, or refused where
// there is nothing else, unless rights is set.
func (n *Node) Accept(ctx context.Context, who, asOf string, rights bool) (Acceptance, error) {
	a, drafts, err := n.acceptance(ctx, who, asOf, rights)
	if err != nil {
		return Acceptance{}, err
	}
	if len(drafts) == 0 {
		return Acceptance{}, refuse(ErrUnasked, "what was listed of %q is no work but decides who may what, so nothing was accepted. With it %s: ask for the rights as well if that is to come into force", who, strings.Join(a.Rights, "; "))
	}
	return a, n.save(drafts...)
}

// Acceptable says what Accept would do, or why it refuses, and changes nothing. Of
// laptops of which only control entries were listed it tells the rights.
func (n *Node) Acceptable(ctx context.Context, who, asOf string, rights bool) (Acceptance, error) {
	a, _, err := n.acceptance(ctx, who, asOf, rights)
	return a, err
}

// acceptance drafts what raises the cuts, and says what comes with it.
func (n *Node) acceptance(ctx context.Context, who, asOf string, rights bool) (a Acceptance, drafts []Draft, err error) {
	own, err := n.director()
	if err != nil {
		return a, nil, err
	}
	members, err := n.members(ctx, who)
	if err != nil {
		return a, nil, err
	}
	listed, err := n.listed(ctx, asOf)
	if err != nil {
		return a, nil, err
	}
	var whole []Draft // with the control logs
	for _, m := range members {
		raised, ok := Raise(n.store.Verdict(), m.Device, own.Rank(), listed[m.Device])
		if !ok {
			return a, nil, refuse(ErrRights, "somebody of higher rank ended the standing of %s: only they, or the staff's root, can let more of it count", LaptopOf(m.Author.Name, m.DeviceName))
		}
		whole = append(whole, raised...)
		if !rights {
			raised, _ = Raise(n.store.Verdict(), m.Device, own.Rank(), n.withoutControls(listed[m.Device]))
		}
		if len(raised) > 0 {
			drafts, a.Devices = append(drafts, raised...), append(a.Devices, m.Device)
		}
	}
	if len(whole) == 0 {
		return a, nil, refuse(ErrInvalid, "nothing of %q that was listed is set aside by a cut", who)
	}
	a.Rights, err = n.rightsWith(ctx, own.Rank(), whole, listed)
	return a, drafts, err
}

// withoutControls leaves out what stands in control logs.
func (n *Node) withoutControls(listed []entry.ID) []entry.ID {
	control := map[entry.LogID]bool{}
	for _, b := range n.store.Branches() {
		control[b.Log] = b.Control
	}
	return slices.DeleteFunc(slices.Clone(listed), func(id entry.ID) bool { return control[id.Log] })
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
	if len(listed) == 0 {
		return nil, true
	}
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
