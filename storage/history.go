package storage

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"iter"
	"slices"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// HistoryEntry is one entry as it is held.
type HistoryEntry struct {
	entry.Entry
	ID     entry.ID
	Place  merge.Place
	Status merge.Status // 0 while folding is blocked
	// Body is what the entry says; when it can't be read, Unreadable is why.
	Body       entry.Body
	Unreadable error
}

const entryColumns = "SELECT n, hash, status, header, body FROM entry "

// History reads all entries on a record, by Lamport time, then hash.
func (s *Store) History(ctx context.Context, id entry.RecordID) ([]HistoryEntry, error) {
	n, err := s.numberOf(ctx, id)
	if errors.Is(err, ErrNoRecord) {
		return nil, nil
	}
	if err != nil {
		return nil, failure("read history", err)
	}
	entries, err := s.entries(ctx, entryColumns+"WHERE n IN ("+entriesOf+")", n)
	slices.SortFunc(entries, byTime)
	return entries, failure("read history", err)
}

// byTime orders entries by Lamport time, then by hash.
func byTime(a, b HistoryEntry) int {
	return cmp.Or(cmp.Compare(a.Header.Lamport, b.Header.Lamport), bytes.Compare(a.Hash[:], b.Hash[:]))
}

// SetAside reads entries that are kept but not applied, for want of standing,
// of the right, or of understanding, or because they were erased; of those the
// first, at most limit (0: all). They come by log, then by number, then by hash:
// in the same order on every laptop that holds them.
func (s *Store) SetAside(ctx context.Context, limit int) ([]HistoryEntry, error) {
	ids, err := s.asideIDs(ctx)
	if err != nil {
		return nil, err
	}
	if limit > 0 && limit < len(ids) {
		ids = ids[:limit]
	}
	var aside []HistoryEntry
	for _, id := range ids {
		e, held, err := s.Entry(ctx, id)
		if err != nil {
			return nil, err
		}
		if held && e.Status != merge.Applied { // it may have come to count meanwhile
			aside = append(aside, e)
		}
	}
	return aside, nil
}

// Applied reads every entry that is applied, in the order in which this database
// met their branches, and within one as they were written. Each page is of its own
// moment, as with [Store.Records].
func (s *Store) Applied(ctx context.Context) iter.Seq2[HistoryEntry, error] {
	return func(yield func(HistoryEntry, error) bool) {
		last := entryKey(-1)
		for {
			page, err := s.entries(ctx, entryColumns+"WHERE n > ? AND status = 1 ORDER BY n LIMIT ?", last, pageSize)
			if err != nil {
				yield(HistoryEntry{}, failure("read entries", err))
				return
			}
			for _, e := range page {
				if err := onward(&last, keyOf(e.Place)); err != nil {
					yield(HistoryEntry{}, failure("read entries", err))
					return
				}
				if !yield(e, nil) {
					return
				}
			}
			if len(page) < pageSize {
				return
			}
		}
	}
}

// asideIDs returns the ids of what is set aside, in order. A row's number tells
// no order: branches are numbered as they arrive.
func (s *Store) asideIDs(ctx context.Context) ([]entry.ID, error) {
	m := s.held.Load()
	var ids []entry.ID
	err := s.readers.bind(ctx)(func(scan func(...any) error) error {
		var key entryKey
		var hash []byte
		if err := scan(&key, &hash); err != nil {
			return err
		}
		if at := key.place(); int(at.Branch) < len(m.branches) { // not of a branch that was added since
			ids = append(ids, entry.Point{Seq: at.Seq, Hash: entry.Hash(hash)}.ID(m.branches[at.Branch].log.id))
		}
		return nil
	}, "SELECT n, hash FROM entry WHERE status <> 1")
	slices.SortFunc(ids, entry.ID.Compare)
	return ids, failure("read set-aside entries", err)
}

// Entry reads one entry; false when it isn't held.
func (s *Store) Entry(ctx context.Context, id entry.ID) (HistoryEntry, bool, error) {
	at, held, err := s.Locate(ctx, id)
	if err != nil || !held {
		return HistoryEntry{}, false, err
	}
	entries, err := s.entries(ctx, entryColumns+"WHERE n = ?", keyOf(at))
	if err != nil || len(entries) == 0 {
		return HistoryEntry{}, false, failure("read entry", err)
	}
	return entries[0], true, nil
}

func (s *Store) entries(ctx context.Context, text string, args ...any) ([]HistoryEntry, error) {
	m := s.held.Load()
	var entries []HistoryEntry
	err := s.readers.bind(ctx)(func(scan func(...any) error) error {
		var key entryKey
		var hash []byte
		var e HistoryEntry
		err := scan(&key, &hash, &e.Status, &e.Raw.Header, &e.Raw.Body)
		if err != nil {
			return err
		}
		e.Place = key.place()
		if int(e.Place.Branch) >= len(m.branches) {
			m = s.held.Load() // a branch was added since
		}
		if int(e.Place.Branch) >= len(m.branches) {
			return nil // of a transaction that is about to be acknowledged
		}
		e.Seq = e.Place.Seq
		copy(e.Hash[:], hash)
		e.ID = e.Point.ID(m.branches[e.Place.Branch].log.id)
		if e.Header, err = entry.DecodeHeader(e.Raw.Header); err != nil {
			return err
		}
		e.Body, e.Unreadable = entry.DecodeBody(e.Raw.Body)
		entries = append(entries, e)
		return nil
	}, text, args...)
	return entries, err
}

// Locate finds where an entry lies; false when it isn't held.
func (s *Store) Locate(ctx context.Context, id entry.ID) (merge.Place, bool, error) {
	at, held, err := s.held.Load().locate(s.readers.bind(ctx).hashAt, id)
	return at, held, failure("locate entry", err)
}
