package node

import (
	"encoding/binary"
	"errors"
	"fmt"
	"slices"

	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
	"plumbline/sync/mesh"
	"plumbline/sync/wire"
)

// An introduction is the control logs that this laptop holds, as bytes. With
// it a laptop that hasn't heard of another one's grant can judge it, and a
// newcomer its staff. Whoever reads it verifies every run.

// introduce writes the introduction, or nothing if it is too long to send to
// somebody who isn't admitted yet: then the two link once either has met somebody
// who knows both.
func (n *Node) introduce() []byte {
	data, err := encodeLogs(n.store, mesh.MaxIntroduction, isControl)
	if err != nil {
		return nil
	}
	return data
}

func (n *Node) controlLogs() ([]byte, error) { return Introduction(n.store) }

// Introducing is what an introduction is written from.
type Introducing interface {
	Branches() []storage.BranchInfo
	Range(log entry.LogID, after, upto entry.Point, max int) ([]entry.Raw, []entry.SignedPoint, error)
}

// Introduction writes the control logs held.
func Introduction(from Introducing) ([]byte, error) { return encodeLogs(from, maxControl, isControl) }

func isControl(b storage.BranchInfo) bool { return b.Control }

// ownWriting is the logs of this laptop that aren't control logs.
func (n *Node) ownWriting() ([]byte, error) {
	own := entry.DeviceOf(n.public())
	return encodeLogs(n.store, maxWritten, func(b storage.BranchInfo) bool { return !b.Control && b.Device == own })
}

// errLong is returned for logs that take more than may be sent at once.
var errLong = errors.New("the logs are too long to be handed over at once")

// encodeLogs writes whole logs: the newest grant stands at the end of one.
func encodeLogs(from Introducing, most int, of func(storage.BranchInfo) bool) ([]byte, error) {
	branches := slices.DeleteFunc(from.Branches(), func(b storage.BranchInfo) bool { return !of(b) })
	out := binary.AppendUvarint(nil, uint64(len(branches)))
	for _, b := range branches {
		raws, points, err := from.Range(b.Log, entry.Point{}, b.Tip, most+unsigned)
		if err != nil {
			return nil, err
		}
		if out = (introducedLog{b.Log, raws, points}).append(out); len(out) > most {
			return nil, fmt.Errorf("%w: more than %d bytes", errLong, most)
		}
	}
	return out, nil
}

// introduction is one log of its own, as an introduction.
func introduction(run entry.Run) []byte {
	l := introducedLog{log: run.Log, points: run.Points}
	for _, e := range run.Entries {
		l.raws = append(l.raws, e.Raw)
	}
	return l.append(binary.AppendUvarint(nil, 1))
}

// unsigned is more than lies between two signed points, in bytes: by less than that
// it falls short what comes of a log that is longer than what was asked for.
const unsigned = 256 << 10

// maxControl is the most of control logs that is handed to a newcomer, in bytes: some
// 70,000 grants, or 300 laptops cut that had as many logs as one may.
const maxControl = 20 << 20

// introducedLog is one control log of an introduction, not verified yet.
type introducedLog struct {
	log    entry.LogID
	raws   []entry.Raw
	points []entry.SignedPoint
}

func (l introducedLog) append(out []byte) []byte {
	out = append(out, l.log[:]...)
	out = binary.AppendUvarint(out, uint64(len(l.raws)))
	for _, r := range l.raws {
		out = wire.AppendBytes(wire.AppendBytes(out, r.Header), r.Body)
	}
	out = binary.AppendUvarint(out, uint64(len(l.points)))
	for _, p := range l.points {
		out = binary.AppendUvarint(out, p.Seq)
		out = append(out, p.Hash[:]...)
		out = wire.AppendBytes(out, p.Signature)
	}
	return out
}

func (l introducedLog) verify(staff entry.StaffID) (entry.Run, error) {
	return entry.Verify(entry.Source{Staff: staff, Log: l.log, After: entry.Point{Hash: entry.Origin(staff)}}, l.raws, l.points)
}

func readIntroduction(data []byte) ([]introducedLog, error) {
	d := wire.Decoder{Rest: data}
	var logs []introducedLog
	for range d.Count() {
		l := introducedLog{log: d.Array16()}
		for range d.Count() {
			l.raws = append(l.raws, entry.Raw{Header: d.Bytes(), Body: d.Bytes()})
		}
		for range d.Count() {
			l.points = append(l.points, entry.SignedPoint{Point: entry.Point{Seq: d.Uvarint(), Hash: d.Array32()}, Signature: d.Bytes()})
		}
		logs = append(logs, l)
	}
	if err := d.Done(); err != nil {
		return nil, fmt.Errorf("introduction: %w", err)
	}
	return logs, nil
}

// learn stores what counts of an introduction.
func (n *Node) learn(introduction []byte) error {
	return Learn(introduction, n.store.Staff(), n.store.Verdict, func(run entry.Run) error {
		return n.step(Introduced{Runs: []entry.Run{run}}).Err
	})
}

// Learn hands over what counts of an introduction, verified: logs of the root,
// then those of devices that what was kept so far grants. Who isn't granted
// leaves nothing behind.
func Learn(introduction []byte, staff entry.StaffID, verdict func() *merge.Verdict, keep func(entry.Run) error) error {
	logs, err := readIntroduction(introduction)
	if err != nil {
		return err
	}
	for progress := true; progress; {
		progress = false
		for i, l := range logs {
			if l.raws == nil || !l.counts(staff, verdict()) {
				continue
			}
			run, err := l.verify(staff)
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

// counts reports whether a control log is the root's, or a director's by the
// grants held.
func (l introducedLog) counts(staff entry.StaffID, v *merge.Verdict) bool {
	if len(l.raws) == 0 {
		return false
	}
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
