package node

import (
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Learning is what an introduction is judged by: the entries that are held.
type Learning interface {
	Verdict() *merge.Verdict
	Source(log entry.LogID, after entry.Point) (entry.Source, bool)
}

// learn stores what counts of an introduction.
func (n *Node) learn(introduction []byte) error {
	return Learn(introduction, n.store.Staff(), n.store, func(run entry.Run) error {
		return n.step(Introduced{Runs: []entry.Run{run}}).Err
	})
}

// Learn hands over what counts of an introduction, verified: logs of the root,
// then those of devices that what was kept so far grants. Who isn't granted
// leaves nothing behind, and neither does a part of a log whose beginning isn't held.
func Learn(introduction []byte, staff entry.StaffID, by Learning, keep func(entry.Run) error) error {
	logs, err := readIntroduction(introduction)
	if err != nil {
		return err
	}
	for progress := true; progress; {
		progress = false
		for i, l := range logs {
			if len(l.raws) == 0 {
				continue
			}
			from, counts := l.from(staff, by)
			if !counts {
				continue
			}
			run, err := entry.Verify(from, l.raws, l.points)
			if err != nil {
				return err
			}
			if err := keep(run); err != nil {
				return err
			}
			logs[i].raws, progress = nil, true
		}
	}
	return nil
}

// from tells where a control log attaches, if it counts: the root's, or a
// director's by the grants held.
func (l introducedLog) from(staff entry.StaffID, by Learning) (entry.Source, bool) {
	if l.after.Seq == 0 {
		return l.whole(staff), l.begins(staff, by.Verdict())
	}
	s := by.Verdict().Standing(l.log)
	if !s.Control || !s.Root && !(s.Granted && s.Certificate.Role == entry.RoleDirector) {
		return entry.Source{}, false
	}
	return by.Source(l.log, l.after)
}

// begins reports whether the first entry is that of a control log which counts.
func (l introducedLog) begins(staff entry.StaffID, v *merge.Verdict) bool {
	body, err := entry.DecodeBody(l.raws[0].Body)
	if err != nil || body.Genesis == nil || !body.Genesis.Control {
		return false
	}
	if len(body.Genesis.Certificate) == 0 {
		return entry.StaffOf(body.Genesis.Device) == staff
	}
	// Also of one who was cut since: what they granted before still counts.
	cert, granted := v.Grants[entry.CertificateOf(body.Genesis.Certificate)]
	return granted && cert.Role == entry.RoleDirector
}
