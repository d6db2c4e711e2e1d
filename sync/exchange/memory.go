package exchange

import (
	"fmt"

	"plumbline/sync/entry"
)

// Memory is the plainest [Holdings]: maps, no judgement, nothing durable. It
// stands where a laptop's disk doesn't matter.
type Memory struct {
	staff entry.StaffID
	order []entry.LogID
	logs  map[entry.LogID]*memoryLog
}

type memoryLog struct {
	control  bool
	device   []byte
	branches []*memoryBranch
	places   map[entry.Point]*memoryBranch
	points   map[entry.Point]entry.SignedPoint
}

// memoryBranch is a stretch of a log that no other branch holds. Its last
// entry is a tip: what would attach there only lengthens it.
type memoryBranch struct {
	parent  *memoryBranch
	base    uint64 // the last sequence number that belongs to the parent
	entries []entry.Entry
}

// NewMemory returns empty holdings of a staff.
func NewMemory(staff entry.StaffID) *Memory {
	return &Memory{staff: staff, logs: map[entry.LogID]*memoryLog{}}
}

func (b *memoryBranch) at(seq uint64) entry.Entry {
	for seq <= b.base {
		b = b.parent
	}
	return b.entries[seq-b.base-1]
}

func (b *memoryBranch) tip() entry.Point { return b.entries[len(b.entries)-1].Point }

// Append stores what is missing of a verified run and returns the tip of the
// branch that grew, if one did.
func (m *Memory) Append(run entry.Run) ([]Tip, error) {
	run = Missing(m, run)
	if len(run.Entries) == 0 {
		return nil, nil
	}
	log, err := m.attach(run)
	if err != nil {
		return nil, err
	}
	branch := log.places[run.After]
	if branch == nil || branch.tip() != run.After {
		branch = &memoryBranch{parent: branch, base: run.After.Seq}
		log.branches = append(log.branches, branch)
	}
	branch.entries = append(branch.entries, run.Entries...)
	for _, e := range run.Entries {
		log.places[e.Point] = branch
	}
	for _, p := range run.Points {
		log.points[p.Point] = p
	}
	return []Tip{{Log: run.Log, Point: run.Tip(), Control: log.control}}, nil
}

func (m *Memory) attach(run entry.Run) (*memoryLog, error) {
	log := m.logs[run.Log]
	if run.After.Seq > 0 {
		if log == nil || log.places[run.After] == nil {
			return nil, fmt.Errorf("log %s, entry %d: %w", run.Log, run.After.Seq, ErrNotHeld)
		}
		return log, nil
	}
	body, err := entry.DecodeBody(run.Entries[0].Body)
	if err != nil {
		return nil, err
	}
	if body.Genesis == nil {
		return nil, fmt.Errorf("log %s: %w: no first entry", run.Log, entry.ErrMalformed)
	}
	log = &memoryLog{
		control: body.Genesis.Control, device: body.Genesis.Device,
		places: map[entry.Point]*memoryBranch{}, points: map[entry.Point]entry.SignedPoint{},
	}
	m.logs[run.Log], m.order = log, append(m.order, run.Log)
	return log, nil
}

// Tips implements [Holdings], logs in the order of their arrival.
func (m *Memory) Tips() []Tip {
	var tips []Tip
	for _, id := range m.order {
		tips = append(tips, m.TipsOf(id)...)
	}
	return tips
}

// TipsOf implements [Holdings].
func (m *Memory) TipsOf(id entry.LogID) (tips []Tip) {
	log := m.logs[id]
	if log == nil {
		return nil
	}
	for _, b := range log.branches {
		tips = append(tips, Tip{Log: id, Point: b.tip(), Control: log.control})
	}
	return tips
}

// Holds implements [Holdings].
func (m *Memory) Holds(log entry.LogID, at entry.Point) bool { return m.branch(log, at) != nil }

func (m *Memory) branch(log entry.LogID, at entry.Point) *memoryBranch {
	if l := m.logs[log]; l != nil {
		return l.places[at]
	}
	return nil
}

// Samples implements [Holdings].
func (m *Memory) Samples(log entry.LogID, tip entry.Point) []entry.Point {
	branch := m.branch(log, tip)
	if branch == nil {
		return nil
	}
	var points []entry.Point
	for seq := range Back(tip.Seq) {
		points = append(points, branch.at(seq).Point)
	}
	return points
}

// Source implements [Holdings].
func (m *Memory) Source(log entry.LogID, after entry.Point) (entry.Source, bool) {
	src := entry.Source{Staff: m.staff, Log: log, After: entry.Point{Hash: entry.Origin(m.staff)}}
	if after.Seq == 0 {
		return src, true
	}
	branch := m.branch(log, after)
	if branch == nil {
		return entry.Source{}, false
	}
	src.Device, src.After, src.Lamport = m.logs[log].device, after, branch.at(after.Seq).Header.Lamport
	return src, true
}

// Range implements [Holdings].
func (m *Memory) Range(log entry.LogID, after, upto entry.Point, max int) ([]entry.Raw, []entry.SignedPoint, error) {
	branch := m.branch(log, upto)
	if branch == nil || after.Seq > upto.Seq || after.Seq > 0 && branch.at(after.Seq).Point != after {
		return nil, nil, fmt.Errorf("log %s, entries %d to %d: %w", log, after.Seq+1, upto.Seq, ErrNotHeld)
	}
	var raws []entry.Raw
	var points []entry.SignedPoint
	whole, size := 0, 0
	for seq := after.Seq + 1; seq <= upto.Seq; seq++ {
		e := branch.at(seq)
		if size += e.Size(); size > max {
			break
		}
		raws = append(raws, e.Raw)
		if p, ok := m.logs[log].points[e.Point]; ok {
			points, whole = append(points, p), len(raws)
		}
	}
	return raws[:whole], points, nil
}

// Wants implements [Holdings]: there is room for everything.
func (m *Memory) Wants(Tip) bool { return true }
