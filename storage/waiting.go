package storage

import (
	"cmp"
	"context"
	"errors"
	"slices"

	"plumbline/sync/entry"
)

// waiting searches the records that aren't in the search index as they are now,
// where the disk takes no words: in an index of its own, of the same making, in
// memory, some records at a time. How much a word says is counted among those.
type waiting struct {
	searched
	projector Projector
	index     *connection
	found     []match
}

type match struct {
	id   entry.RecordID
	n    recordKey
	rank int64 // in billionths
}

// searchWaiting finds what waits for the index and what is in it, of one moment.
func (s *Store) searchWaiting(ctx context.Context, of searched) (found []entry.RecordID, err error) {
	index, err := openNamed(ctx, ":memory:")
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, index.close()) }()
	if err := index.migrate(); err != nil {
		return nil, err
	}
	w := &waiting{searched: of, projector: s.projector, index: index}
	m := memory{next: s.held.Load().next, worded: map[entry.Kind]recordKey{}}
	err = s.readers.snapshot(ctx, func(q querier) error {
		if err := m.loadWorded(q); err != nil {
			return err
		}
		for _, kind := range m.unworded(of.kind) {
			if err := w.kind(q, kind, m.worded[kind]); err != nil {
				return err
			}
		}
		found, err = of.indexed(q, "AND words.rowid NOT IN (SELECT record FROM reword)")
		return err
	})
	return append(w.best(), found...), err
}

// kind searches what waits of one kind: new records, and changed ones.
func (w *waiting) kind(q querier, kind entry.Kind, worded recordKey) error {
	first, last := ofKind(kind)
	worded = max(worded, first-1)
	if err := w.walk(q, "", worded+1, last); err != nil {
		return err
	}
	return w.walk(q, "AND r.n IN (SELECT record FROM reword)", first, worded)
}

// walk goes through records between two numbers.
func (w *waiting) walk(q querier, where string, from, to recordKey) error {
	for last := from - 1; ; {
		count, ids, texts := 0, map[recordKey]entry.RecordID{}, map[recordKey]string{}
		err := q.records(func(r stored) error {
			count++
			if text := w.projector.Words(r.ID, liveValues(r.Record)); text != "" && r.Info.Visibility != w.without {
				ids[r.n], texts[r.n] = r.ID, text
			}
			return onward(&last, r.n)
		}, "WHERE r.state IS NOT NULL AND r.n BETWEEN ? AND ? "+where+" ORDER BY r.n LIMIT ?", last+1, to, wordsAtOnce)
		if err == nil {
			err = w.some(ids, texts)
		}
		if err != nil || count < wordsAtOnce {
			return err
		}
	}
}

// some searches these records.
func (w *waiting) some(ids map[recordKey]entry.RecordID, texts map[recordKey]string) error {
	return w.index.transact(func() error {
		if err := w.index.insertWords(texts); err != nil {
			return err
		}
		err := w.index.query(func(scan func(...any) error) error {
			var one match
			err := scan(&one.n, &one.rank)
			one.id = ids[one.n]
			w.found = append(w.found, one)
			return err
		}, "SELECT rowid, CAST(rank * 1e9 AS INTEGER) FROM words WHERE words MATCH ?", w.match)
		if err != nil {
			return err
		}
		return w.index.exec("INSERT INTO words (words) VALUES ('delete-all')")
	})
}

// best returns what was found, the best match first, limit at most.
func (w *waiting) best() (best []entry.RecordID) {
	slices.SortFunc(w.found, func(a, b match) int { return cmp.Or(cmp.Compare(a.rank, b.rank), cmp.Compare(a.n, b.n)) })
	for i, one := range w.found {
		if w.limit <= 0 || i < w.limit {
			best = append(best, one.id)
		}
	}
	return best
}
