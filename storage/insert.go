package storage

import (
	"errors"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// cacheLimit is how many records a transaction keeps folded in memory before
// it stores them and starts over. Large imports touch more than that.
const cacheLimit = 16384

// patience is how many entries or records are handled between two looks at the
// caller's context.
const patience = 256

// insertAll stores the new entries, judged and folded unless nothing may be
// folded now.
func (d *draft) insertAll(judge bool) error {
	if err := d.learnKeys(); err != nil {
		return err
	}
	for _, g := range d.growths {
		if !judge {
			d.setSpan(g.n)
		}
		b := d.branches[g.n]
		if g.fresh {
			if err := d.insertBranch(g, b); err != nil {
				return err
			}
		}
		s := d.standing(b)
		for i := range g.entries {
			if i%patience == 0 {
				if err := errors.Join(d.pause(), d.meet(g.entries[i:min(i+patience, len(g.entries))])); err != nil {
					return err
				}
			}
			if err := d.insertEntry(g.n, b.log.id, &g.entries[i], s, judge); err != nil {
				return err
			}
		}
	}
	return errors.Join(d.newEntries.flush(), d.newSoles.flush())
}

// pause looks whether the caller still waits, and stores what has gathered.
func (d *draft) pause() error {
	if err := d.ctx.Err(); err != nil {
		return err
	}
	if len(d.order) < cacheLimit {
		return nil
	}
	return d.flush()
}

func (d *draft) insertBranch(g *growth, b *branch) error {
	if b.parent == noBranch {
		err := d.w.exec("INSERT INTO log (n, id, genesis) VALUES (?, ?, ?)", b.log.n, b.log.id[:], g.entries[0].Body)
		if err != nil {
			return err
		}
	}
	var parent any
	if b.parent != noBranch {
		parent = b.parent
	}
	return d.w.exec(`INSERT INTO branch (n, log, parent, fork, tip_seq, tip_hash, tip_lamport)
		VALUES (?, ?, ?, ?, 0, x'', 0)`, g.n, b.log.n, parent, b.fork)
}

func (d *draft) insertEntry(n merge.Branch, log entry.LogID, e *entry.Entry, s standing, judge bool) error {
	body := readBody(e.Body)
	id := e.Point.ID(log)
	at, status := keyOf(merge.Place{Branch: n, Seq: e.Seq}), merge.Status(0)
	if judge {
		status = s.judge(id, e.Header.Record, body.Kind)
	}
	var record any
	if e.Header.Record != "" {
		f, err := d.folding(e.Header.Record)
		if err != nil {
			return err
		}
		record = int64(f.n)
		if status == merge.Applied && !d.refolds[f.id] {
			f.apply(at, merge.Write{Origin: merge.Origin{ID: id, Lamport: e.Header.Lamport, Wall: e.Header.Wall}, Body: body})
			if f.sole == at {
				f.marked = at
				return d.newSoles.add(int64(at), e.Hash[:], record, e.Raw.Header, e.Body)
			}
		}
	}
	return d.newEntries.add(int64(at), e.Hash[:], record, int64(status), int64(body.Kind), e.Raw.Header, e.Body)
}

// readBody reads a body; one that can't be read has kind 0.
func readBody(data []byte) entry.Body {
	body, err := entry.DecodeBody(data)
	if err != nil {
		return entry.Body{}
	}
	return body
}

// storeBranches stores the new tips and the signatures that vouch for them.
func (d *draft) storeBranches() error {
	for _, g := range d.growths {
		b := d.branches[g.n]
		err := d.w.exec("UPDATE branch SET tip_seq = ?, tip_hash = ?, tip_lamport = ? WHERE n = ?",
			b.tip.Seq, b.tip.Hash[:], b.lamport, g.n)
		if err != nil {
			return err
		}
		if err := d.storePoints(g, b); err != nil {
			return err
		}
	}
	return nil
}
