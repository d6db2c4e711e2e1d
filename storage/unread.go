package storage

import (
	"cmp"
	"context"
	"slices"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// spot is one entry on a record or on what refers to it.
type spot struct {
	key    entryKey
	id     entry.ID
	status merge.Status
	kind   entry.BodyKind
}

// spots finds the entries on records and on what refers to them, in the order
// of the database.
func (s *Store) spots(ctx context.Context, ids []entry.RecordID) ([]spot, error) {
	var spots []spot
	for _, id := range ids {
		n, err := s.numberOf(ctx, id)
		if err != nil {
			return nil, err
		}
		m := s.held.Load()
		err = s.readers.bind(ctx)(func(scan func(...any) error) error {
			var at spot
			var hash []byte
			if err := scan(&at.key, &hash, &at.status, &at.kind); err != nil {
				return err
			}
			place := at.key.place()
			if int(place.Branch) >= len(m.branches) {
				m = s.held.Load() // a branch was added since
			}
			if int(place.Branch) < len(m.branches) { // else of a transaction that is about to be acknowledged
				at.id = entryID(m.branches[place.Branch].log.id, place.Seq, hash)
				spots = append(spots, at)
			}
			return nil
		}, writtenUnder+"SELECT e.n, e.hash, e.status, e.kind FROM wrote CROSS JOIN entry e ON e.n = wrote.n", n)
		if err != nil {
			return nil, err
		}
	}
	slices.SortFunc(spots, func(a, b spot) int { return cmp.Compare(a.key, b.key) })
	return slices.CompactFunc(spots, func(a, b spot) bool { return a.key == b.key }), nil
}

// Heads returns what a retirement of the records carries if its author has read
// everything that is held: for each branch that wrote to them or to what refers
// to them, the last applied entry, and those before it that aren't applied and
// might one day be.
func (s *Store) Heads(ctx context.Context, ids ...entry.RecordID) (entry.Retirement, error) {
	spots, err := s.spots(ctx, ids)
	if err != nil {
		return entry.Retirement{}, failure("read heads", err)
	}
	var r entry.Retirement
	for len(spots) > 0 {
		branch := spots[0].key.place().Branch
		end := slices.IndexFunc(spots, func(at spot) bool { return at.key.place().Branch != branch })
		if end < 0 {
			end = len(spots)
		}
		last := end
		for ; last > 0 && spots[last-1].status != merge.Applied; last-- {
		}
		for _, at := range spots[:last] {
			if at.status != merge.Applied {
				r.SetAside = append(r.SetAside, at.id)
			}
		}
		if last > 0 {
			r.Heads = append(r.Heads, spots[last-1].id)
		}
		spots = spots[end:]
	}
	return r, nil
}

// Unread reads what counts on records and on what refers to them, and that
// somebody who had read up to there hadn't read; by Lamport time, then hash.
func (s *Store) Unread(ctx context.Context, read entry.Retirement, ids ...entry.RecordID) ([]HistoryEntry, error) {
	entries, err := s.uncovered(ctx, []entry.Retirement{read}, ids, func(spot) bool { return true })
	return entries, failure("read what came in", err)
}

// HadRead reports whether somebody who had read up to there had read an entry.
func (s *Store) HadRead(ctx context.Context, read entry.Retirement, id entry.ID) (bool, error) {
	h := s.held.Load().history(s.readers.bind(ctx).hashAt)
	had := merge.HadRead(read, id, h)
	return had, failure("look whether an entry was read", h.err)
}

// Disputing reads what keeps a record that was retired in sight: the writes to
// it and to what refers to it that no live retirement covers.
func (s *Store) Disputing(ctx context.Context, id entry.RecordID) ([]HistoryEntry, error) {
	row, err := s.Record(ctx, id)
	if err != nil {
		return nil, err
	}
	h := s.held.Load().history(s.readers.bind(ctx).hashAt)
	var live []entry.Retirement
	for _, t := range row.LiveRetirements(h) {
		live = append(live, t.Retirement)
	}
	if h.err != nil {
		return nil, failure("read retirements", h.err)
	}
	entries, err := s.uncovered(ctx, live, []entry.RecordID{id}, func(at spot) bool { return at.kind == entry.KindChanges })
	return entries, failure("read what a retirement lacks", err)
}

// Retiring reads the retirements of a record that no keep has answered.
func (s *Store) Retiring(ctx context.Context, id entry.RecordID) ([]HistoryEntry, error) {
	row, err := s.Record(ctx, id)
	if err != nil {
		return nil, err
	}
	h := s.held.Load().history(s.readers.bind(ctx).hashAt)
	var entries []HistoryEntry
	for _, t := range row.LiveRetirements(h) {
		e, held, err := s.Entry(ctx, t.ID)
		if err != nil {
			return nil, err
		}
		if held {
			entries = append(entries, e)
		}
	}
	slices.SortFunc(entries, byTime)
	return entries, failure("read retirements", h.err)
}

// uncovered reads the applied entries under the records that none of the
// retirements covers.
func (s *Store) uncovered(ctx context.Context, by []entry.Retirement, ids []entry.RecordID, is func(spot) bool) ([]HistoryEntry, error) {
	spots, err := s.spots(ctx, ids)
	if err != nil {
		return nil, err
	}
	h := s.held.Load().history(s.readers.bind(ctx).hashAt)
	var entries []HistoryEntry
	for _, at := range spots {
		place := at.key.place()
		h.known[at.id] = &place // so that it isn't looked for
		if at.status != merge.Applied || !is(at) ||
			slices.ContainsFunc(by, func(r entry.Retirement) bool { return merge.HadRead(r, at.id, h) }) {
			continue
		}
		e, held, err := s.Entry(ctx, at.id)
		if err != nil {
			return nil, err
		}
		if held {
			entries = append(entries, e)
		}
	}
	slices.SortFunc(entries, byTime)
	return entries, h.err
}
