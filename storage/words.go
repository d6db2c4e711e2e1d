package storage

import (
	"context"
	"maps"
	"slices"

	"plumbline/sync/entry"
)

// wordsAtOnce is how many records a transaction adds to the search index: few
// enough that a save that comes in between hardly waits.
const wordsAtOnce = 4096

// IndexWords brings the search index up to date for at most limit records, and
// reports whether some are left. A catch-up would cost half as much again if it
// did so itself (measured), so [Store.Search] does, and whoever has nothing else
// to do.
func (s *Store) IndexWords(ctx context.Context, limit int) (left bool, err error) {
	return s.indexSome(ctx, 0, limit)
}

// indexKind brings the index up to date for the records of a kind, or for all (0):
// whoever looks for one of few prospects doesn't wait for many reps.
func (s *Store) indexKind(ctx context.Context, kind entry.Kind) error {
	for {
		if left, err := s.indexSome(ctx, kind, wordsAtOnce); err != nil || !left {
			return err
		}
	}
}

func (s *Store) indexSome(ctx context.Context, kind entry.Kind, limit int) (left bool, err error) {
	if s.readOnly || s.projector == nil || len(s.held.Load().unworded(kind)) == 0 {
		return false, nil
	}
	s.writing.Lock()
	defer s.writing.Unlock()
	m := *s.held.Load()
	m.worded = maps.Clone(m.worded)
	err = s.writer.transact(func() error {
		for _, k := range m.unworded(kind) {
			for ; limit > 0 && m.worded[k]+1 < m.next[k]; limit -= pageSize {
				if err := s.indexPage(ctx, &m, k); err != nil {
					return err
				}
			}
			for ; limit > 0 && m.rewords[k]; limit -= pageSize {
				if err := s.reindex(ctx, &m, k); err != nil {
					return err
				}
			}
		}
		return nil
	})
	if err != nil {
		return false, failure("index words", err)
	}
	s.held.Store(&m)
	return len(m.unworded(kind)) > 0, nil
}

// unworded returns the kinds, of those asked for, of which records aren't in the
// search index as they are now.
func (m *memory) unworded(of entry.Kind) []entry.Kind {
	var kinds []entry.Kind
	for kind, next := range m.next {
		if (of == 0 || of == kind) && (m.worded[kind]+1 < next || m.rewords[kind]) {
			kinds = append(kinds, kind)
		}
	}
	slices.Sort(kinds)
	return kinds
}

// indexPage adds the next records of a kind.
func (s *Store) indexPage(ctx context.Context, m *memory, kind entry.Kind) error {
	from := max(m.worded[kind], firstOf(kind)) + 1
	upto := m.next[kind] - 1
	// By the rows that are there: in a damaged file a number may be far from any.
	_, err := querier(s.writer.query).one("SELECT n FROM record WHERE n BETWEEN ? AND ? ORDER BY n LIMIT 1 OFFSET ?",
		[]any{from, upto, pageSize - 1}, &upto)
	if err == nil && upto < from {
		err = ErrCorrupt
	}
	if err != nil {
		return err
	}
	if err := s.index(ctx, "WHERE r.state IS NOT NULL AND r.n BETWEEN ? AND ?", from, upto); err != nil {
		return err
	}
	m.worded[kind] = upto
	return s.writer.exec("INSERT OR REPLACE INTO worded (kind, n) VALUES (?, ?)", kind, upto)
}

// reindex takes up the first records of a kind whose words have changed.
func (s *Store) reindex(ctx context.Context, m *memory, kind entry.Kind) error {
	const some = "(SELECT record FROM reword WHERE record BETWEEN ? AND ? ORDER BY record LIMIT ?)"
	from, to := ofKind(kind)
	if err := s.writer.exec("DELETE FROM words WHERE rowid IN "+some, from, to, pageSize); err != nil {
		return err
	}
	if err := s.index(ctx, "WHERE r.state IS NOT NULL AND r.n IN "+some, from, to, pageSize); err != nil {
		return err
	}
	if err := s.writer.exec("DELETE FROM reword WHERE record IN "+some, from, to, pageSize); err != nil {
		return err
	}
	var gone int
	if _, err := querier(s.writer.query).one("SELECT changes()", nil, &gone); err != nil {
		return err
	}
	if gone == 0 { // they are read, and aren't found
		return ErrCorrupt
	}
	return m.loadRewords(s.writer.query, kind)
}

// index adds records that aren't in the index.
func (s *Store) index(ctx context.Context, where string, args ...any) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	texts := map[recordKey]string{}
	err := querier(s.writer.query).shown(func(n recordKey, is Shown) error {
		if text := s.projector.Words(is.ID, is.Live); text != "" {
			texts[n] = text
		}
		return nil
	}, where, args...)
	if err != nil {
		return err
	}
	return s.writer.insertWords(texts)
}

func (w *connection) insertWords(texts map[recordKey]string) error {
	for _, n := range slices.Sorted(maps.Keys(texts)) {
		if err := w.exec("INSERT INTO words (rowid, text) VALUES (?, ?)", n, texts[n]); err != nil {
			return err
		}
	}
	return nil
}

func (m *memory) loadWorded(q querier) error {
	err := q(func(scan func(...any) error) error {
		var kind entry.Kind
		var n recordKey
		err := scan(&kind, &n)
		m.worded[kind] = n
		return err
	}, "SELECT kind, n FROM worded")
	if err != nil {
		return err
	}
	for kind := range m.next {
		if err := m.loadRewords(q, kind); err != nil {
			return err
		}
	}
	return nil
}

func (m *memory) loadRewords(q querier, kind entry.Kind) error {
	var one recordKey
	from, to := ofKind(kind)
	some, err := q.one("SELECT record FROM reword WHERE record BETWEEN ? AND ? LIMIT 1", []any{from, to}, &one)
	m.rewords = rewordsWith(m.rewords, kind, some)
	return err
}

// rewordsWith returns the kinds with this one among them, or without it.
func rewordsWith(kinds map[entry.Kind]bool, kind entry.Kind, some bool) map[entry.Kind]bool {
	if kinds[kind] == some {
		return kinds
	}
	changed := map[entry.Kind]bool{}
	maps.Copy(changed, kinds)
	changed[kind] = some
	return changed
}
