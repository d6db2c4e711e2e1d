package storage

import (
	"slices"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// settle brings up to date what depends on several records: which are joined,
// which are hidden, and what must be summed up anew.
func (d *draft) settle() error {
	if err := d.flush(); err != nil {
		return err
	}
	if err := d.refoldAll(); err != nil {
		return err
	}
	d.seeds = append(d.seeds, d.arrived...)
	if d.pairing {
		d.join()
	}
	reached, err := d.reach()
	if err != nil {
		return err
	}
	for _, id := range reached {
		if err := d.settleRecord(id); err != nil {
			return err
		}
	}
	return nil
}

func (d *draft) settleRecord(id entry.RecordID) error {
	if _, ok := d.retired[id]; ok {
		if err := d.showOrHide(id); err != nil {
			return err
		}
	}
	if d.projector == nil || !d.projector.Summarized(id.Kind()) {
		return nil
	}
	f, err := d.folding(id)
	if err != nil {
		return err
	}
	d.stale.add(f.n)
	return nil
}

// reach returns everything that depends on what was touched: upwards along
// references, and across all records that are one.
func (d *draft) reach() ([]entry.RecordID, error) {
	if d.projector == nil && len(d.retired) == 0 {
		return nil, nil
	}
	// Most seeds refer to others and aren't referred to: they aren't remembered,
	// so that one may come twice.
	seen := map[entry.RecordID]bool{}
	queue := slices.Clip(d.seeds)
	visit := func(id entry.RecordID) {
		if !seen[id] {
			seen[id] = true
			queue = append(queue, id)
		}
	}
	for i := 0; i < len(queue); i++ {
		if i%patience == 0 {
			if err := d.pause(); err != nil {
				return nil, err
			}
		}
		f, err := d.folding(queue[i])
		if err != nil {
			return nil, err
		}
		for _, id := range f.references() {
			visit(id)
		}
		// The groups of before are enough: what joins or splits them is itself
		// touched, and leads on to the members of both sides.
		if groups := d.before.groups; groups.Joined(queue[i]) {
			for _, member := range groups.Members(groups.Leader(queue[i])) {
				visit(member)
			}
		}
	}
	return queue, d.flush()
}

// showOrHide judges the visibility of a retired record.
func (d *draft) showOrHide(id entry.RecordID) error {
	f, err := d.folding(id)
	if err != nil {
		return err
	}
	v, err := d.visibility(d.read(), d.hashAt, f.rec, f.n)
	if err != nil {
		return err
	}
	return d.show(f, v)
}

// visibility judges a record by what is stored of it and of what refers to it.
func (m *memory) visibility(q querier, at hashes, r *merge.Record, n recordKey) (merge.Visibility, error) {
	var failed error
	h := m.history(at)
	v := r.Visibility(h, func(yield func(entry.ID) bool) {
		ids, err := m.written(q, n)
		failed = err
		slices.Values(ids)(yield)
	})
	if failed == nil {
		failed = h.err
	}
	return v, failed
}

// under selects a record and everything that refers to it, transitively.
const under = `WITH RECURSIVE under (n) AS (SELECT ? UNION
	SELECT r.n FROM under u CROSS JOIN ref ON target = u.n CROSS JOIN record r ON r.n BETWEEN source AND source + count - 1) `

// writtenUnder adds to that the entries on all of them.
const writtenUnder = under + `, wrote (n) AS (SELECT e.n FROM under CROSS JOIN entry e ON e.record = under.n WHERE e.sole = 0
	UNION ALL SELECT r.state FROM under CROSS JOIN record r ON r.n = under.n WHERE typeof(r.state) = 'integer') `

// written returns all applied writes to a record and to what refers to it.
func (m *memory) written(q querier, n recordKey) (ids []entry.ID, err error) {
	err = q(func(scan func(...any) error) error {
		var key entryKey
		var hash []byte
		if err := scan(&key, &hash); err != nil {
			return err
		}
		at := key.place()
		ids = append(ids, entryID(m.branches[at.Branch].log.id, at.Seq, hash))
		return nil
	}, writtenUnder+"SELECT e.n, e.hash FROM wrote CROSS JOIN entry e ON e.n = wrote.n WHERE e.status = ? AND e.kind = ?", n,
		merge.Applied, entry.KindChanges)
	return ids, err
}
