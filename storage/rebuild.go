package storage

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Rebuild throws away everything derived and folds all entries again, in one
// transaction.
func (s *Store) Rebuild(ctx context.Context) error {
	s.writing.Lock()
	defer s.writing.Unlock()
	if s.readOnly {
		return fmt.Errorf("rebuild: %w", ErrReadOnly)
	}
	m, err := load(s.writer.query)
	if err != nil {
		return failure("rebuild", err)
	}
	if m.Blocked() {
		return fmt.Errorf("rebuild: %w", ErrBlocked)
	}
	s.takeWarm() // nothing of it is to be trusted
	d := s.draft(ctx)
	d.memory = *m
	err = s.writer.transact(func() error {
		d.copyRest()
		d.fold.mark++
		if err := d.refoldEverything(); err != nil {
			return err
		}
		if err := errors.Join(d.measureAll(), d.storeOutdated()); err != nil {
			return err
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		return d.w.setMeta(keyFold, d.fold.encode())
	})
	if err != nil {
		return failure("rebuild", err)
	}
	s.publish(d)
	return nil
}

// refoldEverything derives all there is to derive from the entries, logs and
// branches alone.
func (d *draft) refoldEverything() error {
	for _, text := range []string{
		"DELETE FROM ref", "DELETE FROM record_key", "DELETE FROM unkeyed", "DELETE FROM summary", "DELETE FROM pack", "DELETE FROM pack_part", "DELETE FROM stale", "DELETE FROM worded", "DELETE FROM reword",
		"INSERT INTO words (words) VALUES ('delete-all')",
		"UPDATE record SET state = NULL, lamport = NULL, conflicts = 0, retirements = 0, visibility = 0",
		"CREATE INDEX entry_all ON entry (record, n)", // also of those that were sole, rightly or not
	} {
		if err := d.w.exec(text); err != nil {
			return err
		}
	}
	d.unpacked.emptied()
	d.stale.emptied()
	d.unkeyed, d.known = unkeyed{}, nil
	if err := d.keyRecords(); err != nil {
		return err
	}
	clear(d.records)
	clear(d.strangers)
	clear(d.warm)
	clear(d.worded)
	d.rewords = nil
	clear(d.pairs)
	clear(d.retired)
	d.order = nil
	d.fold.hash, d.fold.by, d.fold.behind = merge.StateHash{}, d.builtBy, false
	d.unreadable = nil
	d.judged, d.pairing, d.retiring = true, true, true
	for n := range d.branches {
		d.own(merge.Branch(n)).span = d.spanOf(merge.Branch(n))
	}
	for n := range d.branches {
		if err := d.rereadBranch(merge.Branch(n)); err != nil {
			return err
		}
	}
	if err := d.refoldRecords(); err != nil {
		return err
	}
	if err := d.dropStrays(); err != nil {
		return err
	}
	if err := d.w.exec("DROP INDEX entry_all"); err != nil {
		return err
	}
	return d.settle()
}

// keyRecords lets all records be found by their ids.
func (d *draft) keyRecords() error {
	var keys []newKey
	for from := recordKey(0); ; {
		page, err := d.recordsFrom(from)
		if err != nil {
			return err
		}
		for _, r := range page {
			keys = append(keys, newKey{idKey(r.id), r.n})
		}
		if len(keys) >= unkeyedAtMost || len(page) == 0 {
			slices.SortFunc(keys, compareKeys)
			if err := d.w.insertKeys(keys); err != nil || len(page) == 0 {
				return err
			}
			keys = keys[:0]
		}
		from = page[len(page)-1].n + 1
	}
}

// dropStrays removes records of which nothing is left.
func (d *draft) dropStrays() error {
	if err := d.memory.keyAll(d.w); err != nil {
		return err
	}
	var strays []numbered
	err := d.read()(func(scan func(...any) error) error {
		var r numbered
		var id []byte
		err := scan(&r.n, &id)
		r.id = entry.RecordID(id)
		strays = append(strays, r)
		return err
	}, `SELECT n, id FROM record WHERE state IS NULL AND n NOT IN (SELECT target FROM ref)
		AND NOT EXISTS (SELECT 1 FROM entry WHERE record = record.n)`)
	if err != nil {
		return err
	}
	for _, r := range strays {
		err := errors.Join(d.w.exec("DELETE FROM record WHERE n = ?", r.n),
			d.w.exec("DELETE FROM record_key WHERE key = ? AND n = ?", idKey(r.id), r.n))
		if err != nil {
			return err
		}
	}
	return nil
}

// derived is what a row of an entry holds besides the author's bytes.
type derived struct {
	record entry.RecordID
	status merge.Status
	kind   entry.BodyKind
}

func (d derived) String() string {
	return fmt.Sprintf("status %d, kind %d, record %s", d.status, d.kind, d.record)
}

// rereadBranch derives a branch's entries again.
func (d *draft) rereadBranch(n merge.Branch) error {
	b := d.branches[n]
	s := d.standing(b)
	for after := b.fork; after < b.tip.Seq; {
		upto := min(after+4096, b.tip.Seq)
		wrong, err := d.wrong(n, s, after, upto)
		if err != nil {
			return err
		}
		for seq, is := range wrong {
			if err := d.correct(merge.Place{Branch: n, Seq: seq}, is); err != nil {
				return err
			}
		}
		if err := d.pause(); err != nil {
			return err
		}
		after = upto
	}
	return nil
}

// wrong returns what the rows of a stretch should hold where they don't.
func (d *draft) wrong(n merge.Branch, s standing, after, upto uint64) (map[uint64]derived, error) {
	wrong := map[uint64]derived{}
	log := d.branches[n].log.id
	err := d.read()(func(scan func(...any) error) error {
		var key entryKey
		var row derived
		var hash, header, body, id []byte
		if err := scan(&key, &hash, &header, &body, &row.status, &row.kind, &id); err != nil {
			return err
		}
		row.record = entry.RecordID(id)
		is, err := derive(s, entryID(log, key.place().Seq, hash), entry.Raw{Header: header, Body: body})
		if err != nil {
			return fmt.Errorf("entry %v: %w (%w)", key.place(), ErrCorrupt, err)
		}
		if is != row {
			wrong[key.place().Seq] = is
		}
		return nil
	}, `SELECT e.n, e.hash, e.header, e.body, e.status, e.kind, r.id
		FROM entry e LEFT JOIN record r ON r.n = e.record WHERE e.n > ? AND e.n <= ?`,
		keyOf(merge.Place{Branch: n, Seq: after}), keyOf(merge.Place{Branch: n, Seq: upto}))
	return wrong, err
}

// derive reads and judges an entry.
func derive(s standing, id entry.ID, raw entry.Raw) (derived, error) {
	h, err := entry.DecodeHeader(raw.Header)
	if err != nil {
		return derived{}, err
	}
	kind := readBody(raw.Body).Kind
	return derived{record: h.Record, kind: kind, status: s.judge(id, h.Record, kind)}, nil
}

func (d *draft) correct(at merge.Place, is derived) error {
	var record any
	if is.record != "" {
		f, err := d.folding(is.record)
		if err != nil {
			return err
		}
		record = f.n
	}
	return d.w.exec("UPDATE entry SET record = ?, status = ?, kind = ? WHERE n = ?",
		record, is.status, is.kind, keyOf(at))
}

// refoldRecords folds every record that has entries.
func (d *draft) refoldRecords() error {
	if err := d.flush(); err != nil {
		return err
	}
	for from := recordKey(0); ; {
		page, err := d.recordsFrom(from)
		if err != nil || len(page) == 0 {
			return err
		}
		for _, r := range page {
			if err := d.refoldRecord(r); err != nil {
				return err
			}
		}
		if err := d.pause(); err != nil {
			return err
		}
		from = page[len(page)-1].n + 1
	}
}

func (d *draft) refoldRecord(r numbered) error {
	to, err := d.refoldFrom(d.read(), r.id, "record = ?", r.n)
	if err != nil {
		return err
	}
	err = d.w.exec("UPDATE entry SET sole = n = ?2 WHERE record = ?1 AND sole <> (n = ?2)", r.n, to.sole)
	if err != nil || to.applied == 0 {
		return err
	}
	f, err := d.folding(r.id)
	if err != nil {
		return err
	}
	f.replace(to)
	f.marked = to.sole
	return nil
}

// numbered is a record's identifier with its number here.
type numbered struct {
	n  recordKey
	id entry.RecordID
}

func (d *draft) recordsFrom(from recordKey) (page []numbered, err error) {
	last := from - 1
	err = d.read()(func(scan func(...any) error) error {
		var r numbered
		var id []byte
		if err := scan(&r.n, &id); err != nil {
			return err
		}
		r.id = entry.RecordID(id)
		page = append(page, r)
		return onward(&last, r.n)
	}, "SELECT n, id FROM record WHERE n >= ? ORDER BY n LIMIT ?", from, pageSize)
	return page, err
}
