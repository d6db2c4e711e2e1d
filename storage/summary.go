package storage

import (
	"context"
	"iter"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Mark is a moment in the order of transactions.
type Mark int64

// Summary is what the caller stored for a record.
type Summary struct {
	Record     entry.RecordID
	Visibility merge.Visibility
	Data       []byte // nil if it isn't what was stored
}

// StaleSummaries returns the records whose summary has to be computed anew,
// and the moment at which that was so. A record is stale when it, or something
// that refers to it in one step or several, or a record that is one with it,
// has changed.
func (s *Store) StaleSummaries(ctx context.Context) ([]entry.RecordID, Mark, error) {
	var stale []entry.RecordID
	mark := s.held.Load().fold.mark // before the read: what comes later stays stale
	err := s.readers.bind(ctx)(func(scan func(...any) error) error {
		var id []byte
		err := scan(&id)
		stale = append(stale, entry.RecordID(id))
		return err
	}, "SELECT r.id FROM stale s JOIN record r ON r.n = s.record ORDER BY s.record")
	return stale, mark, failure("read stale summaries", err)
}

// OfferSummaries stores summaries that were computed from what was read at or
// after the mark. A record that changed since the mark stays stale. A nil
// summary is removed. While something else is being stored, or in a file that is
// only read, nothing is, and false returned.
func (s *Store) OfferSummaries(ctx context.Context, mark Mark, summaries map[entry.RecordID][]byte) (bool, error) {
	if s.readOnly || !s.writing.TryLock() {
		return false, nil
	}
	defer s.writing.Unlock()
	return true, s.putSummaries(ctx, mark, summaries)
}

// AwaitWriter returns once what is being stored now is.
func (s *Store) AwaitWriter() {
	s.writing.Lock()
	defer s.writing.Unlock()
}

func (s *Store) putSummaries(ctx context.Context, mark Mark, summaries map[entry.RecordID][]byte) error {
	if len(summaries) == 0 {
		return nil
	}
	var made []recordKey
	err := s.updateLocked(ctx, "store summaries", func() error {
		for id, data := range summaries {
			n, held, err := s.held.Load().numberOf(s.writer.query, id)
			if held && err == nil {
				err = s.writer.putSummary(n, data)
			}
			if err != nil {
				return err
			}
			if !held || s.stale.after(mark, n) {
				continue
			}
			made = append(made, n)
			if err := s.writer.exec("DELETE FROM stale WHERE record = ? AND mark <= ?", n, mark); err != nil {
				return err
			}
		}
		return nil
	})
	if err == nil {
		s.stale.made(made)
	}
	return err
}

func (w *connection) putSummary(n recordKey, data []byte) error {
	if data == nil {
		return w.exec("DELETE FROM summary WHERE record = ?", n)
	}
	return w.exec("INSERT OR REPLACE INTO summary (record, data) VALUES (?, ?)", n, summed(data, "", n, 0))
}

const insertStale = "INSERT OR REPLACE INTO stale (record, mark) VALUES (?, ?)"

// Summaries reads the summaries of a kind, stale ones too, in pages; see
// [Store.Records].
func (s *Store) Summaries(ctx context.Context, kind entry.Kind) iter.Seq2[Summary, error] {
	return func(yield func(Summary, error) bool) {
		from, to := keysOf(kind)
		last := from - 1
		for {
			var page []Summary
			err := s.readers.bind(ctx)(func(scan func(...any) error) error {
				var id []byte
				var x Summary
				var n recordKey
				if err := scan(&n, &id, &x.Visibility, &x.Data); err != nil {
					return err
				}
				x.Record = entry.RecordID(id)
				x.Data, _ = unsummed(x.Data, "", n, 0)
				page = append(page, x)
				return onward(&last, n)
			}, `SELECT r.n, r.id, r.visibility, s.data FROM summary s JOIN record r ON r.n = s.record
				WHERE s.record BETWEEN ? AND ? ORDER BY s.record LIMIT ?`, last+1, to, pageSize)
			if err != nil {
				yield(Summary{}, failure("read summaries", err))
				return
			}
			for _, x := range page {
				if !yield(x, nil) {
					return
				}
			}
			if len(page) < pageSize {
				return
			}
		}
	}
}
