package node

import (
	"bytes"
	"cmp"
	"crypto/ed25519"
	"io"
	"time"

	"plumbline/sync/entry"
)

// OwnLogs writes this laptop's logs: one for what its person writes and, on a
// director's laptop, one for control entries. It opens a log when it first
// needs one, and again when the certificate changes: what a log may do is one
// fact about it.
type OwnLogs struct {
	Staff  entry.StaffID
	Key    ed25519.PrivateKey
	Random io.Reader
	// Certificate returns the certificate to write under, or why this laptop
	// may not write.
	Certificate func() ([]byte, error)

	data, control ownLog
}

// ownLog is a log that this laptop continues. An empty certificate means that
// there is none.
type ownLog struct {
	certificate []byte
	writer      entry.Writer
}

// Written is what a Write would store. It becomes the logs' state only by
// Commit, after the disk has it.
type Written struct {
	Runs []entry.Run
	IDs  []entry.ID // of the drafts, in their order

	data, control ownLog
}

// Write builds signed entries for the drafts. held is the highest Lamport time
// that the laptop holds.
func (a *OwnLogs) Write(drafts []Draft, held uint64, now time.Time) (Written, error) {
	certificate, err := a.Certificate()
	if err != nil {
		return Written{}, err
	}
	data := a.begin(a.data, certificate, false)
	control := a.begin(a.control, certificate, true)
	var ids []entry.ID
	for _, d := range drafts {
		into := data
		if d.Record == "" {
			into = control
		}
		id, err := into.append(d, max(held, data.log.writer.Lamport, control.log.writer.Lamport), cmp.Or(d.Wall, now.UnixMilli()))
		if err != nil {
			return Written{}, err
		}
		ids = append(ids, id)
	}
	w := Written{IDs: ids, data: a.data, control: a.control}
	if len(data.run.Entries) > 0 {
		w.data = data.log
	}
	if len(control.run.Entries) > 0 {
		w.control = control.log
	}
	for _, b := range []*batch{control, data} {
		if len(b.run.Entries) > 0 {
			w.Runs = append(w.Runs, b.finish())
		}
	}
	return w, nil
}

// Commit makes what was stored the logs' state.
func (a *OwnLogs) Commit(w Written) { a.data, a.control = w.data, w.control }

// batch is one run in the making.
type batch struct {
	log      ownLog
	run      entry.Run
	unsigned int // bytes since the last signed point
	isNew    bool
	control  bool
}

// begin continues a log, or prepares a new one where there is none under this
// certificate.
func (a *OwnLogs) begin(log ownLog, certificate []byte, control bool) *batch {
	b := &batch{log: log, control: control}
	if len(log.certificate) == 0 || !bytes.Equal(log.certificate, certificate) {
		b.isNew = true
		b.log = ownLog{certificate: certificate, writer: entry.Writer{Staff: a.Staff, Key: a.Key, Random: a.Random}}
	}
	b.run = entry.Run{Log: b.log.writer.Log, After: b.log.writer.Tip, Lamport: b.log.writer.Lamport}
	return b
}

func (b *batch) append(d Draft, held uint64, wall int64) (entry.ID, error) {
	if b.isNew {
		first, err := b.log.writer.Open(b.control, b.log.certificate, held, wall)
		if err != nil {
			return entry.ID{}, err
		}
		b.isNew = false
		b.run.Log, b.run.After = b.log.writer.Log, entry.Point{Hash: entry.Origin(b.log.writer.Staff)}
		b.add(first)
	}
	e, err := b.log.writer.Append(d.Record, d.Body, held, wall)
	if err != nil {
		return entry.ID{}, err
	}
	b.add(e)
	return e.Point.ID(b.log.writer.Log), nil
}

func (b *batch) add(e entry.Entry) {
	b.run.Entries = append(b.run.Entries, e)
	if b.unsigned += e.Size(); b.unsigned >= entry.PointSpacing/2 {
		b.sign()
	}
}

func (b *batch) sign() {
	b.run.Points = append(b.run.Points, b.log.writer.Sign())
	b.unsigned = 0
}

func (b *batch) finish() entry.Run {
	if b.unsigned > 0 {
		b.sign()
	}
	return b.run
}

// Tips returns where the logs of this laptop end, for the token that proves
// at the next start that nothing happened in between.
func (a *OwnLogs) Tips() []entry.ID {
	var tips []entry.ID
	for _, log := range []ownLog{a.data, a.control} {
		if len(log.certificate) > 0 {
			tips = append(tips, log.writer.Tip.ID(log.writer.Log))
		}
	}
	return tips
}

// Resume continues a log where the token says it ended.
func (a *OwnLogs) Resume(control bool, certificate []byte, src entry.Source) {
	log := ownLog{certificate: certificate, writer: entry.Writer{
		Staff: a.Staff, Key: a.Key, Random: a.Random, Log: src.Log, Tip: src.After, Lamport: src.Lamport,
	}}
	if control {
		a.control = log
	} else {
		a.data = log
	}
}
