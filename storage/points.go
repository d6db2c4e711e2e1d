package storage

import (
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// tail is what must be known of a branch's last signed points to tell which of
// them can go. A laptop signs whenever it announces, an author of single edits
// after each; kept are the tip's point and enough before it to serve the log
// piece by piece, also in small pieces and across a fork, where the spacings on
// both sides add up.
type tail struct {
	known bool
	// last is the tip's point, since how many bytes lie between it and the
	// point kept before it.
	last  uint64
	since uint64
}

const keptSpacing = entry.PointSpacing / 8

func (d *draft) storePoints(g *growth, b *branch) error {
	t := b.points
	if !t.known && !g.fresh {
		var err error
		if t, err = d.loadTail(g); err != nil {
			return err
		}
	}
	var keep []entry.SignedPoint
	var drop uint64
	at := 0
	for _, p := range g.points {
		gap := uint64(0)
		for ; at < len(g.entries) && g.entries[at].Seq <= p.Seq; at++ {
			gap += uint64(g.entries[at].Size())
		}
		switch {
		case t.last == 0:
			t.since = gap
		case t.since+gap > keptSpacing:
			t.since = gap
		case len(keep) == 0:
			drop, t.since = t.last, t.since+gap
		default:
			keep, t.since = keep[:len(keep)-1], t.since+gap
		}
		keep, t.last = append(keep, p), p.Seq
	}
	t.known = true
	b.points = t
	return d.writePoints(g.n, drop, keep)
}

// loadTail reads what isn't known yet: the tip's point and the one before it.
func (d *draft) loadTail(g *growth) (t tail, err error) {
	var seqs []uint64
	err = d.read()(func(scan func(...any) error) error {
		var seq uint64
		err := scan(&seq)
		seqs = append(seqs, seq)
		return err
	}, "SELECT seq FROM point WHERE branch = ? AND seq < ? ORDER BY seq DESC LIMIT 2", g.n, g.first)
	if err != nil || len(seqs) == 0 {
		return t, err
	}
	t.last = seqs[0]
	seqs = append(seqs, 0)
	_, err = d.read().one("SELECT coalesce(sum(length(header) + length(body)), 0) FROM entry WHERE n > ? AND n <= ?",
		[]any{keyOf(merge.Place{Branch: g.n, Seq: seqs[1]}), keyOf(merge.Place{Branch: g.n, Seq: t.last})}, &t.since)
	return t, err
}

func (d *draft) writePoints(n merge.Branch, drop uint64, keep []entry.SignedPoint) error {
	if drop > 0 {
		if err := d.w.exec("DELETE FROM point WHERE branch = ? AND seq = ?", n, drop); err != nil {
			return err
		}
	}
	for _, p := range keep {
		err := d.w.exec("INSERT INTO point (branch, seq, hash, signature) VALUES (?, ?, ?, ?)", n, p.Seq, p.Hash[:], p.Signature)
		if err != nil {
			return err
		}
	}
	return nil
}
