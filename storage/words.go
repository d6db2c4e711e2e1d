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

// IndexWords adds records to the search index that came since it was brought up
// to date, at most limit of them, and reports whether some are left. A catch-up
// would cost half as much again if it did so itself (measured), so [Store.Search]
// does, and whoever has nothing else to do.
func (s *Store) IndexWords(ctx context.Context, limit int) (left bool, err error) {
	if s.readOnly || s.projector == nil || len(s.held.Load().unworded()) == 0 {
		return false, nil
	}
	s.writing.Lock()
	defer s.writing.Unlock()
	m := *s.held.Load()
	m.worded = maps.Clone(m.worded)
	err = s.writer.transact(func() error {
		for _, kind := range m.unworded() {
			for ; limit > 0 && m.worded[kind]+1 < m.next[kind]; limit -= pageSize {
				if err := s.indexPage(ctx, &m, kind); err != nil {
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
	return len(m.unworded()) > 0, nil
}

func (s *Store) indexAll(ctx context.Context) error {
	for {
		if left, err := s.IndexWords(ctx, wordsAtOnce); err != nil || !left {
			return err
		}
	}
}

// unworded returns the kinds of which records aren't in the search index yet.
func (m *memory) unworded() []entry.Kind {
	var kinds []entry.Kind
	for kind, next := range m.next {
		if m.worded[kind]+1 < next {
			kinds = append(kinds, kind)
		}
	}
	slices.Sort(kinds)
	return kinds
}

// indexPage adds the next records of a kind.
func (s *Store) indexPage(ctx context.Context, m *memory, kind entry.Kind) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	from := max(m.worded[kind], firstOf(kind)) + 1
	upto := min(from+pageSize, m.next[kind]) - 1
	texts := map[recordKey]string{}
	err := querier(s.writer.query).records(func(r stored) error {
		if text := s.projector.Words(r.Record); text != "" {
			texts[r.n] = text
		}
		return nil
	}, "WHERE r.state IS NOT NULL AND r.n BETWEEN ? AND ?", from, upto)
	if err != nil {
		return err
	}
	for _, n := range slices.Sorted(maps.Keys(texts)) {
		if err := s.writer.exec("INSERT INTO words (rowid, text) VALUES (?, ?)", n, texts[n]); err != nil {
			return err
		}
	}
	m.worded[kind] = upto
	return s.writer.exec("INSERT OR REPLACE INTO worded (kind, n) VALUES (?, ?)", kind, upto)
}

func (m *memory) loadWorded(q querier) error {
	return q(func(scan func(...any) error) error {
		var kind entry.Kind
		var n recordKey
		err := scan(&kind, &n)
		m.worded[kind] = n
		return err
	}, "SELECT kind, n FROM worded")
}
