package node

import (
	"cmp"
	"context"
	"encoding/json"
	"slices"
	"time"

	"plumbline/storage"
	"plumbline/sync/entry"
)

// A person is told once what came back to a restored laptop, which laptops were
// cloned, and what a crash left damaged. What waits to be told lies in the database.
const (
	returnedMeta = "returned"
	toldMeta     = "told-clones"
)

// cameBack is what one laptop brought back of one log.
type cameBack struct {
	Log     string `json:"log"`
	Entries int    `json:"entries"`
	From    string `json:"from"`
}

func (n *Node) noteReturned(r Returned) {
	n.remembering.Lock()
	defer n.remembering.Unlock()
	all := n.cameBack()
	log, from := r.Log.String(), r.From.String()
	i := slices.IndexFunc(all, func(c cameBack) bool { return c.Log == log && c.From == from })
	if i < 0 {
		all = append(all, cameBack{Log: log, From: from})
		i = len(all) - 1
	}
	all[i].Entries += r.Entries
	n.keepMeta(returnedMeta, all)
	n.watchers.peers()
}

func (n *Node) cameBack() []cameBack {
	var all []cameBack
	if data, err := n.store.Meta(n.ctx, returnedMeta); err != nil || json.Unmarshal(data, &all) != nil {
		return nil
	}
	return all
}

func (n *Node) returned(roster []Member) []ReturnedEntries {
	var list []ReturnedEntries
	for _, c := range n.cameBack() {
		log, err1 := entry.ParseLogID(c.Log)
		from, err2 := entry.ParseDeviceID(c.From)
		if err1 != nil || err2 != nil {
			continue
		}
		r := ReturnedEntries{Log: log, Entries: c.Entries, From: Author{Device: from}}
		if m, ok := memberIn(roster, from); ok {
			r.From, r.DeviceName = m.Author, m.DeviceName
		}
		list = append(list, r)
	}
	return list
}

func memberIn(roster []Member, device entry.DeviceID) (Member, bool) {
	i := slices.IndexFunc(roster, func(m Member) bool { return m.Device == device })
	if i < 0 {
		return Member{}, false
	}
	return roster[i], true
}

// forks gathers the branches of logs that have several.
func (n *Node) forks() map[entry.LogID][]storage.BranchInfo {
	forks := map[entry.LogID][]storage.BranchInfo{}
	for _, b := range n.store.Branches() {
		forks[b.Log] = append(forks[b.Log], b)
	}
	for log, branches := range forks {
		if len(branches) < 2 {
			delete(forks, log)
		}
	}
	return forks
}

// clones lists the clones that nobody was told of yet.
func (n *Node) clones(roster []Member, self entry.DeviceID) []Clone {
	told := n.toldClones()
	var list []Clone
	for log, branches := range n.forks() {
		if told[log.String()] >= len(branches) {
			continue
		}
		c := Clone{Log: log, Own: branches[0].Device == self, Author: Author{Device: branches[0].Device}}
		if m, ok := memberIn(roster, branches[0].Device); ok {
			c.Author, c.DeviceName = m.Author, m.DeviceName
		}
		parted := branches[1].Fork
		for _, b := range branches[1:] {
			parted = min(parted, b.Fork)
		}
		for _, b := range branches {
			c.Entries = append(c.Entries, b.Tip.Seq-cmp.Or(b.Fork, parted))
		}
		slices.SortFunc(c.Entries, func(a, b uint64) int { return cmp.Compare(b, a) })
		list = append(list, c)
	}
	slices.SortFunc(list, func(a, b Clone) int { return cmp.Compare(a.Log.String(), b.Log.String()) })
	return list
}

func (n *Node) toldClones() map[string]int {
	told := map[string]int{}
	if data, err := n.store.Meta(n.ctx, toldMeta); err != nil || json.Unmarshal(data, &told) != nil {
		return map[string]int{}
	}
	return told
}

// Acknowledge says that the person has been told. It is told again only when
// more comes back, or another copy shows.
func (n *Node) Acknowledge(ctx context.Context) error {
	n.remembering.Lock()
	defer n.remembering.Unlock()
	told := map[string]int{}
	for log, branches := range n.forks() {
		told[log.String()] = len(branches)
	}
	n.keepMeta(toldMeta, told)
	n.keepMeta(returnedMeta, []cameBack{})
	return failure(n.store.ForgetDamages(ctx))
}

// damages lists the damage that nobody was told of yet.
func (n *Node) damages(ctx context.Context) ([]Damage, error) {
	told, err := n.store.Damages(ctx)
	var list []Damage
	for _, d := range told {
		view := Damage{Kept: d.Kept, Whole: d.Whole}
		if d.After > 0 {
			view.After = time.UnixMilli(d.After)
		}
		list = append(list, view)
	}
	return list, failure(err)
}
