package storage

import (
	"bytes"
	"fmt"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// records folds every record anew and compares.
func (v *verifier) records() error {
	for from := recordKey(0); ; {
		page, err := v.recordsFrom(from)
		if err != nil {
			return err
		}
		for _, r := range page {
			if err := v.record(r); err != nil {
				return err
			}
			if err := v.step(); err != nil {
				return err
			}
		}
		if len(page) < pageSize {
			break
		}
		from = page[len(page)-1].n + 1
	}
	return v.sums()
}

// row is a record as stored, not yet read.
type row struct {
	n     recordKey
	id    entry.RecordID
	state []byte
	sole  entryKey
	figures
	reword bool
}

// figures are what a row says of its record beside the state.
type figures struct {
	lamport                uint64
	conflicts, retirements int
	visibility             merge.Visibility
}

func (f figures) String() string {
	return fmt.Sprintf("time %d, %d conflicts, %d retirements, visibility %d", f.lamport, f.conflicts, f.retirements, f.visibility)
}

// recordsFrom reads a page of rows. No entry has the number 0: where a state
// says it, that isn't the same as none.
func (v *verifier) recordsFrom(from recordKey) (page []row, err error) {
	last := from - 1
	err = v.q(func(scan func(...any) error) error {
		var r row
		var id []byte
		var reword int
		if err := scan(&r.n, &id, &r.state, &r.sole, &r.lamport, &r.conflicts, &r.retirements, &r.visibility, &reword); err != nil {
			return err
		}
		r.id, r.reword = entry.RecordID(id), reword != 0
		page = append(page, r)
		return onward(&last, r.n)
	}, `SELECT n, id, iif(typeof(state) = 'integer', NULL, state), iif(typeof(state) = 'integer', coalesce(nullif(state, 0), -1), 0),
		coalesce(lamport, 0), conflicts, retirements, visibility, n IN (SELECT record FROM reword) FROM record WHERE n >= ? ORDER BY n LIMIT ?`, from, pageSize)
	return page, err
}

func (v *verifier) record(r row) error {
	v.report.Records++
	if !r.id.Valid() || r.id.Kind() != r.n.kind() {
		v.report.stale("record %d: its identifier %s doesn't go with its number", r.n, r.id)
		return nil
	}
	if n, held, err := v.m.numberOf(v.q, r.id); err != nil || !held || n != r.n {
		v.report.stale("record %s: it isn't found by its id", r.id)
		return err
	}
	is, err := v.m.refold(v.q, r.id, r.n)
	if err != nil {
		return err
	}
	want := row{n: r.n, id: r.id}
	if is.applied > 0 {
		if want.sole = is.sole; is.sole == 0 {
			want.state, want.lamport = is.rec.Encode(), is.lamport
		} else {
			v.soles++
		}
		want.conflicts, want.retirements = len(is.rec.Conflicts()), len(is.rec.Retirements)
		v.hash = v.hash.Add(is.rec.Digest())
		if want.visibility, err = v.m.visibility(v.q, v.q.hashAt, is.rec, r.n); err != nil {
			return err
		}
		if err := v.wordsOf(r, is.rec); err != nil {
			return err
		}
		if err := v.references(r, is.rec); err != nil {
			return err
		}
	}
	if !bytes.Equal(want.state, r.state) || want.sole != r.sole {
		v.report.stale("record %s: its state isn't what its entries give", r.id)
	}
	if want.figures != r.figures {
		v.report.stale("record %s: its row says %s, its entries %s", r.id, r.figures, want.figures)
	}
	return nil
}

// wordsOf notes what the search index should have of a record.
func (v *verifier) wordsOf(r row, rec *merge.Record) error {
	if r.n > v.m.worded[r.id.Kind()] || r.reword {
		return nil
	}
	text := v.words(rec)
	if text == "" {
		return nil
	}
	v.worded++
	if v.index == nil {
		return nil
	}
	return v.index.add(r.n, text)
}

func (v *verifier) references(r row, rec *merge.Record) error {
	for _, id := range rec.References() {
		v.refs++
		var end recordKey
		number, args := v.m.byID(id)
		found, err := v.q.one("SELECT source + count FROM ref WHERE target = ("+number+") AND source <= ? ORDER BY source DESC LIMIT 1",
			append(args, r.n), &end)
		if err != nil {
			return err
		}
		if !found || end <= r.n {
			v.report.stale("record %s: its reference to %s isn't indexed", r.id, id)
		}
	}
	return nil
}

// sums compares what is kept about all records together.
func (v *verifier) sums() error {
	if v.hash != v.m.fold.hash {
		v.report.stale("the state hash is %s, the records give %s", v.m.fold.hash, v.hash)
	}
	var refs, keys, worded int
	_, err := v.q.one("SELECT (SELECT coalesce(sum(count), 0) FROM ref), (SELECT count(*) FROM record_key), (SELECT count(*) FROM words_docsize WHERE id NOT IN (SELECT record FROM reword))",
		nil, &refs, &keys, &worded)
	if refs != v.refs {
		v.report.stale("%d references are indexed, the records have %d", refs, v.refs)
	}
	if keys += v.m.unkeyed.size; keys != v.report.Records {
		v.report.stale("%d records are found by their ids, there are %d", keys, v.report.Records)
	}
	if v.marked != v.soles {
		v.report.stale("%d entries are marked as all of a record, %d are", v.marked, v.soles)
	}
	if worded != v.worded {
		v.report.stale("%d records are in the search index, %d have words", worded, v.worded)
	}
	if err != nil || v.index == nil || worded != v.worded {
		return err
	}
	holds, err := v.index.holds(v.q)
	if err == nil && !holds {
		v.report.stale("search index: it finds records by other words than theirs")
	}
	return err
}
