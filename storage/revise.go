package storage

import (
	"fmt"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// revise judges again those held entries that a new verdict says something
// else about. What they touch is folded anew once the new entries are stored.
func (d *draft) revise() error {
	if !d.judged {
		return nil
	}
	for n, b := range d.branches {
		before, now := b.span, d.spanOf(merge.Branch(n))
		if before == now {
			continue
		}
		b = d.own(merge.Branch(n))
		b.span = now
		held := b.tip.Seq
		if g := d.grew[merge.Branch(n)]; g != nil {
			held = g.first - 1
		}
		after, upto := changedBetween(before, now)
		if upto = min(upto, held); upto <= max(after, b.fork) {
			continue
		}
		err := d.rejudgeEntries("WHERE n > ? AND n <= ?",
			keyOf(merge.Place{Branch: merge.Branch(n), Seq: after}), keyOf(merge.Place{Branch: merge.Branch(n), Seq: upto}))
		if err != nil {
			return err
		}
	}
	return d.reviseErased()
}

// changedBetween returns the stretch of a branch for which two spans differ.
func changedBetween(a, b merge.Span) (after, upto uint64) {
	after = ^uint64(0)
	for _, end := range [][2]uint64{{a.Full, b.Full}, {max(a.Full, a.Scout), max(b.Full, b.Scout)}} {
		if end[0] != end[1] {
			after, upto = min(after, end[0], end[1]), max(upto, end[0], end[1])
		}
	}
	return after, upto
}

// reviseErased takes up erasures that have begun or ceased to count.
func (d *draft) reviseErased() error {
	before, now := d.before.verdict.Erasures, d.verdict.Erasures
	if before.Equal(now) {
		return nil
	}
	touched := before.Touched()
	for id := range now.Touched() {
		touched[id] = true
	}
	for id := range touched {
		n, held, err := d.numberOf(d.read(), id)
		if err != nil {
			return err
		}
		if !held {
			continue
		}
		d.refolds[id] = true
		if err := d.rejudgeEntries("WHERE n IN ("+entriesOf+")", n); err != nil {
			return err
		}
	}
	return nil
}

type judgement struct {
	n   entryKey
	id  entry.RecordID
	was merge.Status
	now merge.Status
}

// rejudgeEntries judges held entries and stores what has changed.
func (d *draft) rejudgeEntries(where string, args ...any) error {
	var changed []judgement
	standings := map[merge.Branch]standing{}
	err := d.read()(func(scan func(...any) error) error {
		var j judgement
		var hash, header []byte
		var kind entry.BodyKind
		if err := scan(&j.n, &hash, &j.was, &kind, &header); err != nil {
			return err
		}
		h, err := entry.DecodeHeader(header)
		if err != nil {
			return fmt.Errorf("entry %v: %w (%w)", j.n.place(), ErrCorrupt, err)
		}
		at := j.n.place()
		s, ok := standings[at.Branch]
		if !ok {
			s = d.standing(d.branches[at.Branch])
			standings[at.Branch] = s
		}
		j.id = h.Record
		j.now = s.judge(entryID(d.branches[at.Branch].log.id, at.Seq, hash), j.id, kind)
		if j.now != j.was {
			changed = append(changed, j)
		}
		return nil
	}, "SELECT n, hash, status, kind, header FROM entry "+where, args...)
	if err != nil {
		return err
	}
	for _, j := range changed {
		if err := d.w.exec("UPDATE entry SET status = ? WHERE n = ?", j.now, j.n); err != nil {
			return err
		}
		if j.id != "" {
			d.refolds[j.id] = true
		}
	}
	return nil
}

// entryID names an entry by its stored hash.
func entryID(log entry.LogID, seq uint64, hash []byte) entry.ID {
	id := entry.ID{Log: log, Seq: seq}
	copy(id.Hash[:], hash)
	return id
}
