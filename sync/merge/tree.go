package merge

import "plumbline/sync/entry"

// Branch numbers one unforked run of entries within one database. The numbers
// are local: what a laptop tells others names entries by their hash.
type Branch int32

// Place is where an entry lies: on which branch, at which sequence number.
type Place struct {
	Branch Branch
	Seq    uint64
}

// Tree holds how the branches of all logs hang together. A log has one branch
// unless its laptop's disk was cloned.
type Tree struct {
	nodes []node
	byLog map[entry.LogID][]Branch
}

type node struct {
	log    entry.LogID
	parent Branch
	fork   uint64 // last entry shared with the parent; 0 for a log's first branch
	tip    uint64
}

const noBranch Branch = -1

// AddLog starts a log's first branch.
func (t *Tree) AddLog(log entry.LogID) Branch { return t.add(node{log: log, parent: noBranch}) }

// AddFork starts a branch that shares the entries up to the place.
func (t *Tree) AddFork(at Place) Branch {
	return t.add(node{log: t.nodes[at.Branch].log, parent: at.Branch, fork: at.Seq, tip: at.Seq})
}

func (t *Tree) add(n node) Branch {
	b := Branch(len(t.nodes))
	t.nodes = append(t.nodes, n)
	if t.byLog == nil {
		t.byLog = map[entry.LogID][]Branch{}
	}
	t.byLog[n.log] = append(t.byLog[n.log], b)
	return b
}

// Grow sets the sequence number of a branch's last entry.
func (t *Tree) Grow(b Branch, tip uint64) { t.nodes[b].tip = tip }

// Tip returns the sequence number of a branch's last entry.
func (t *Tree) Tip(b Branch) uint64 { return t.nodes[b].tip }

// Fork returns where a branch leaves its parent; a first branch has none.
func (t *Tree) Fork(b Branch) (at Place, ok bool) {
	n := t.nodes[b]
	return Place{n.parent, n.fork}, n.parent != noBranch
}

// Log returns whose branch it is.
func (t *Tree) Log(b Branch) entry.LogID { return t.nodes[b].log }

// Of returns a log's branches, the first one first.
func (t *Tree) Of(log entry.LogID) []Branch { return t.byLog[log] }

// Len returns how many branches there are; they are numbered from 0.
func (t *Tree) Len() int { return len(t.nodes) }

// Upto returns the last sequence number of b's own entries that are at or
// before the head; 0 when none is.
func (t *Tree) Upto(b Branch, head Place) uint64 {
	limit := head.Seq
	for at := head.Branch; at != noBranch; at = t.nodes[at].parent {
		if at == b {
			return limit
		}
		limit = min(limit, t.nodes[at].fork)
	}
	return 0
}

// Before reports whether the entry is at or before the head in one history.
func (t *Tree) Before(at, head Place) bool { return at.Seq <= t.Upto(at.Branch, head) }
