package storage

import (
	"maps"
	"slices"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// memory is what is kept of the database outside it: what grows with logs and
// control entries, never with entries. Once published it isn't changed; a
// transaction works on a copy, and copies each part before it writes to it.
type memory struct {
	staff    entry.StaffID
	logs     map[entry.LogID]*logInfo
	branches []*branch
	// branchesOf counts those of a device.
	branchesOf map[entry.DeviceID]int
	tree       *merge.Tree // its tips aren't kept up: those of the branches are
	controls   []merge.Control
	verdict    *merge.Verdict

	pairs  map[entry.RecordID]merge.Pair // by same-as record
	groups *merge.Groups
	// retired holds records with an applied retirement, and the heads that
	// these name.
	retired map[entry.RecordID][]entry.ID
	// awaited holds heads that cuts ("") and retirements name and that aren't
	// held: their arrival changes a judgement.
	awaited map[entry.ID][]entry.RecordID
	// named is the highest entry of a log that a cut or retirement names.
	named map[entry.LogID]uint64

	fold    fold
	lamport uint64
	// unreadable says what derived value couldn't be read when the store was
	// opened. It is folded again.
	unreadable error
	// next is the number of the next new record of a kind.
	next map[entry.Kind]recordKey
	// worded is the last record of a kind that is in the search index.
	worded map[entry.Kind]recordKey
	// rewords are the kinds of which records in the search index have other words by
	// now. It is never changed in place.
	rewords map[entry.Kind]bool
	// unkeyed are the records that record_key doesn't have yet.
	unkeyed unkeyed
	// known are the keys of all records, while an empty laptop catches up.
	known *known
}

// logInfo is what never changes of a log.
type logInfo struct {
	id      entry.LogID
	n       int
	genesis entry.Genesis
	device  entry.DeviceID
}

const noBranch merge.Branch = -1

// branch is one unforked stretch of a log.
type branch struct {
	log     *logInfo
	parent  merge.Branch
	fork    uint64
	tip     entry.Point
	lamport uint64
	span    merge.Span // by the current verdict
	// free is how far entries don't count against the space for what has no
	// standing, aside what those beyond it take.
	free, aside uint64
	points      tail
}

// Blocked reports whether folding waits for a newer program.
func (m *memory) Blocked() bool { return len(m.verdict.Newer) > 0 }

// hashes looks up the running hash of an entry that is held, on its own branch.
type hashes func(at merge.Place) (entry.Hash, error)

// locate finds an entry by its identifier.
func (m *memory) locate(at hashes, id entry.ID) (merge.Place, bool, error) {
	return m.search(id.Log, id.Seq, func(p merge.Place) (bool, error) {
		h, err := at(p)
		return h.Short() == id.Hash, err
	})
}

// find finds an entry by its full hash.
func (m *memory) find(at hashes, log entry.LogID, point entry.Point) (merge.Place, bool, error) {
	return m.search(log, point.Seq, func(p merge.Place) (bool, error) {
		if b := m.branches[p.Branch]; p.Seq == b.tip.Seq {
			return b.tip.Hash == point.Hash, nil
		}
		h, err := at(p)
		return h == point.Hash, err
	})
}

func (m *memory) search(log entry.LogID, seq uint64, is func(merge.Place) (bool, error)) (merge.Place, bool, error) {
	for _, b := range m.tree.Of(log) {
		if br := m.branches[b]; seq <= br.fork || seq > br.tip.Seq {
			continue
		}
		at := merge.Place{Branch: b, Seq: seq}
		if ok, err := is(at); ok || err != nil {
			return at, ok, err
		}
	}
	return merge.Place{}, false, nil
}

// path returns the stretches of branches that lead to a place, the first first.
func (m *memory) path(to merge.Place) []stretch {
	var path []stretch
	for b, last := to.Branch, to.Seq; b != noBranch; {
		br := m.branches[b]
		path = append(path, stretch{branch: b, first: br.fork + 1, last: last})
		b, last = br.parent, br.fork
	}
	slices.Reverse(path)
	return path
}

// stretch is a part of a branch, both ends included.
type stretch struct {
	branch      merge.Branch
	first, last uint64
}

// on returns where the entry with this number lies on a path.
func on(path []stretch, seq uint64) (merge.Place, bool) {
	for _, s := range path {
		if seq >= s.first && seq <= s.last {
			return merge.Place{Branch: s.branch, Seq: seq}, true
		}
	}
	return merge.Place{}, false
}

// grownTree returns a tree like the current one that may be added to.
func (m *memory) grownTree() *merge.Tree {
	t := &merge.Tree{}
	for _, b := range m.branches {
		if b.parent == noBranch {
			t.AddLog(b.log.id)
		} else {
			t.AddFork(merge.Place{Branch: b.parent, Seq: b.fork})
		}
	}
	return t
}

// judge decides by all control entries held what counts, and what would if cuts
// were written that nobody wrote.
func (m *memory) judge(at hashes, supposed ...merge.Supposed) (*merge.Verdict, error) {
	var failed error
	logs := make([]merge.Log, 0, len(m.logs))
	for _, l := range m.logs {
		logs = append(logs, merge.Log{ID: l.id, Genesis: l.genesis})
	}
	v := merge.Judge(merge.Ledger{
		Staff: m.staff, Logs: logs, Controls: m.controls, Tree: m.tree, Supposed: supposed,
		Locate: func(id entry.ID) (merge.Place, bool) {
			p, ok, err := m.locate(at, id)
			if err != nil {
				failed = err
			}
			return p, ok
		},
	})
	return v, failed
}

// history tells merge how entries hang together. It remembers the places of
// heads, which are asked for again and again.
type history struct {
	m     *memory
	at    hashes
	known map[entry.ID]*merge.Place
	err   error
}

func (m *memory) history(at hashes) *history {
	return &history{m: m, at: at, known: map[entry.ID]*merge.Place{}}
}

// Before implements [merge.History].
func (h *history) Before(at, head entry.ID) bool {
	a, b := h.place(at), h.place(head)
	return a != nil && b != nil && h.m.tree.Before(*a, *b)
}

func (h *history) place(id entry.ID) *merge.Place {
	p, ok := h.known[id]
	if ok {
		return p
	}
	at, held, err := h.m.locate(h.at, id)
	if err != nil {
		h.err = err
	}
	if held {
		p = &at
	}
	h.known[id] = p
	return p
}

// standing is what judging an entry of one branch takes.
type standing struct {
	merge.Standing
	span     merge.Span
	erasures merge.Erasures
}

func (m *memory) standing(b *branch) standing {
	return standing{Standing: m.verdict.Standing(b.log.id), span: b.span, erasures: m.verdict.Erasures}
}

// judge says what becomes of an entry. Kind 0 is that of a body that can't be
// read: it counts for nothing, but only where its author had the right is that
// for want of understanding.
func (s standing) judge(id entry.ID, record entry.RecordID, kind entry.BodyKind) merge.Status {
	status := s.Status(s.span, id.Seq, record, kind)
	switch {
	case status != merge.Applied:
		return status
	case kind == 0:
		return merge.Unread
	case s.erasures.Erases(id, record, kind):
		return merge.Erased
	}
	return merge.Applied
}

// limitsNamed returns the highest entry of each log that a cut or retirement
// names.
func (m *memory) limitsNamed() map[entry.LogID]uint64 {
	named := map[entry.LogID]uint64{}
	add := func(heads []entry.ID) {
		for _, h := range heads {
			named[h.Log] = max(named[h.Log], h.Seq)
		}
	}
	for _, c := range m.verdict.Cuts {
		add(c.Body.Heads)
	}
	for _, heads := range m.retired {
		add(heads)
	}
	return named
}

func (m *memory) freeOf(b *branch) uint64 {
	return max(b.span.Full, b.span.Scout, m.named[b.log.id])
}

// hasRoom reports whether so many bytes more may be kept of what a device
// wrote without standing.
func (m *memory) hasRoom(device entry.DeviceID, size uint64) bool {
	granted := m.grantedDevices()
	var its, strangers uint64
	for _, b := range m.branches {
		if b.aside == 0 {
			continue
		}
		takes := max(b.aside, asideLog)
		if b.log.device == device {
			its += takes
		}
		if !granted[b.log.device] {
			strangers += takes
		}
	}
	return its+size <= SetAsideLimit && (granted[device] || strangers+size <= StrangersLimit)
}

func (m *memory) grantedDevices() map[entry.DeviceID]bool {
	granted := map[entry.DeviceID]bool{}
	for _, c := range m.verdict.Grants {
		granted[entry.DeviceOf(c.Device)] = true
	}
	return granted
}

// join computes the groups from the pairs, in one order.
func (m *memory) join() {
	pairs := make([]merge.Pair, 0, len(m.pairs))
	for _, id := range slices.Sorted(maps.Keys(m.pairs)) {
		pairs = append(pairs, m.pairs[id])
	}
	m.groups = merge.Join(pairs)
}

// publish makes a committed draft's memory the current one. It is copied: a
// pointer into the draft would keep all that the transaction gathered, and
// through it every one before.
func (s *Store) publish(d *draft) {
	m := d.memory
	s.held.Store(&m)
	s.warm = d.stored()
	s.unpacked, s.stale = d.unpacked.committed(m.fold.mark), d.stale.committed(m.fold.mark)
}
