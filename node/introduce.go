package node

import (
	"encoding/binary"
	"errors"
	"fmt"
	"slices"

	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/mesh"
	"plumbline/sync/wire"
)

// An introduction is the control logs that this laptop holds, as bytes. With
// it a laptop that hasn't heard of another one's grant can judge it, and a
// newcomer its staff. Whoever reads it verifies every run: see [Learn].

// introduce writes the introduction, or of long control logs what is newest: who
// isn't admitted yet may not make a laptop read without end. Who holds the rest can
// judge by that; others link once either has met somebody who knows both.
func (n *Node) introduce() []byte {
	data, err := encodeLogs(n.store, mesh.MaxIntroduction, isControl)
	if errors.Is(err, errLong) {
		data, err = newest(n.store, n.onLinks(), mesh.MaxIntroduction)
	}
	if err != nil {
		n.cfg.Log.Warn("another laptop asked for the grants and got none", "cause", err)
		return nil
	}
	return data
}

func (n *Node) controlLogs() ([]byte, error) { return Introduction(n.store) }

// Introducing is what an introduction is written from.
type Introducing interface {
	Branches() []storage.BranchInfo
	Samples(log entry.LogID, tip entry.Point) []entry.Point
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
		if out = (introducedLog{log: b.Log, raws: raws, points: points}).append(out); len(out) > most {
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
// 140,000 grants, or 300 laptops cut that had as many logs as one may.
const maxControl = 20 << 20

// introducedLog is one control log of an introduction, not verified yet.
type introducedLog struct {
	log    entry.LogID
	after  entry.Point // of the newest part of a log, what it attaches to
	raws   []entry.Raw
	points []entry.SignedPoint
}

func (l introducedLog) append(out []byte) []byte { return l.appendEntries(append(out, l.log[:]...)) }

func (l introducedLog) appendPart(out []byte) []byte {
	out = binary.AppendUvarint(append(out, l.log[:]...), l.after.Seq)
	return l.appendEntries(append(out, l.after.Hash[:]...))
}

func (l introducedLog) appendEntries(out []byte) []byte {
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

// whole is where a run begins that is a log from its first entry on.
func (l introducedLog) whole(staff entry.StaffID) entry.Source {
	return entry.Source{Staff: staff, Log: l.log, After: entry.Point{Hash: entry.Origin(staff)}}
}

// readIntroduction reads whole logs, and behind them, if there are any, parts.
func readIntroduction(data []byte) ([]introducedLog, error) {
	d := wire.Decoder{Rest: data}
	var logs []introducedLog
	for range d.Count() {
		logs = append(logs, readLog(&d, introducedLog{log: d.Array16()}))
	}
	if len(d.Rest) > 0 {
		for range d.Count() {
			logs = append(logs, readLog(&d, introducedLog{log: d.Array16(), after: entry.Point{Seq: d.Uvarint(), Hash: d.Array32()}}))
		}
	}
	if err := d.Done(); err != nil {
		return nil, fmt.Errorf("introduction: %w", err)
	}
	return logs, nil
}

func readLog(d *wire.Decoder, l introducedLog) introducedLog {
	for range d.Count() {
		l.raws = append(l.raws, entry.Raw{Header: d.Bytes(), Body: d.Bytes()})
	}
	for range d.Count() {
		l.points = append(l.points, entry.SignedPoint{Point: entry.Point{Seq: d.Uvarint(), Hash: d.Array32()}, Signature: d.Bytes()})
	}
	return l
}
