package storage

import (
	"context"
	"maps"
	"slices"

	"plumbline/sync/entry"
)

// Number is a record's place in the order in which this database met the
// records of its kind. It means nothing outside this database.
type Number = recordKey

// PackSize is how many numbers make a pack.
const PackSize = 1 << packShift

const packShift = 9

// Pack is what the caller made of records that were met one after the other,
// so that a question about a great many needn't read each.
type Pack struct {
	// First is the first record's number; the pack reaches PackSize numbers on.
	First Number
	// Data is nil when one of the records has changed since, or there are new ones.
	Data []byte
}

// Packs reads the packs of a kind, and the moment at which they were so. What
// refers to a pack's records, or is one with them, doesn't bear on it.
func (s *Store) Packs(ctx context.Context, kind entry.Kind) ([]Pack, Mark, error) {
	mark := s.held.Load().fold.mark // before the read, as with summaries
	from, to := keysOf(kind)
	var packs []Pack
	err := s.readers.bind(ctx)(func(scan func(...any) error) error {
		var p Pack
		err := scan(&p.First, &p.Data)
		p.First <<= packShift
		packs = append(packs, p)
		return err
	}, "SELECT n, data FROM pack WHERE n BETWEEN ? AND ? ORDER BY n", from>>packShift, to>>packShift)
	return packs, mark, failure("read packs", err)
}

// Unpacked returns the first numbers of the packs of a kind that have to be made
// anew, and the moment at which that was so.
func (s *Store) Unpacked(ctx context.Context, kind entry.Kind) ([]Number, Mark, error) {
	mark := s.held.Load().fold.mark
	from, to := keysOf(kind)
	var firsts []Number
	err := s.readers.bind(ctx)(func(scan func(...any) error) error {
		var n Number
		err := scan(&n)
		firsts = append(firsts, n<<packShift)
		return err
	}, "SELECT n FROM pack WHERE data IS NULL AND n BETWEEN ? AND ? ORDER BY n", from>>packShift, to>>packShift)
	return firsts, mark, failure("read what isn't packed", err)
}

// Packed reads the records that a pack is made of, those without a value left
// out, retired ones not.
func (s *Store) Packed(ctx context.Context, first Number) (map[Number]Row, error) {
	return s.rowsAt(ctx, "read a pack's records", "WHERE r.state IS NOT NULL AND r.n BETWEEN ? AND ?", first, first+PackSize-1)
}

// At reads records by their numbers.
func (s *Store) At(ctx context.Context, numbers []Number) (map[Number]Row, error) {
	found := make(map[Number]Row, len(numbers))
	for some := range slices.Chunk(numbers, lookAtOnce) {
		args := make([]any, lookAtOnce) // one statement for all
		for i := range args {
			args[i] = some[min(i, len(some)-1)]
		}
		rows, err := s.rowsAt(ctx, "read records", "WHERE r.state IS NOT NULL AND r.n IN ("+marks(lookAtOnce)+")", args...)
		if err != nil {
			return nil, err
		}
		maps.Copy(found, rows)
	}
	return found, nil
}

func (s *Store) rowsAt(ctx context.Context, doing, where string, args ...any) (map[Number]Row, error) {
	rows := map[Number]Row{}
	err := s.readers.bind(ctx).records(func(r stored) error {
		if live(r.Record) {
			rows[r.n] = r.Row
		}
		return nil
	}, where, args...)
	return rows, failure(doing, err)
}

// NumberOf returns a record's number; false when it isn't held.
func (s *Store) NumberOf(ctx context.Context, id entry.RecordID) (Number, bool, error) {
	n, held, err := s.readers.bind(ctx).numberOf(id)
	return n, held, failure("find record", err)
}

// PutPacks stores what was made of packs' records that were read at or after
// the mark. A pack of which a record has changed since stays as it is. While
// something else is being stored nothing is: whoever asks next makes them.
func (s *Store) PutPacks(ctx context.Context, mark Mark, packs map[Number][]byte) error {
	if s.readOnly || len(packs) == 0 || !s.writing.TryLock() {
		return nil
	}
	defer s.writing.Unlock()
	if err := ctx.Err(); err != nil {
		return failure("store packs", err)
	}
	var made []recordKey
	err := s.writer.transact(func() error {
		for _, first := range slices.Sorted(maps.Keys(packs)) {
			n := first >> packShift
			if s.unpacked.after(mark, n) {
				continue
			}
			made = append(made, n)
			err := s.writer.exec(`INSERT INTO pack (n, mark, data) VALUES (?, ?, ?)
				ON CONFLICT (n) DO UPDATE SET mark = excluded.mark, data = excluded.data WHERE mark <= excluded.mark`, n, mark, packs[first])
			if err != nil {
				return err
			}
		}
		return nil
	})
	if err == nil {
		s.unpacked.made(made)
	}
	return failure("store packs", err)
}

// unpack notes that a pack isn't what its records are any more.
func (d *draft) unpack(n recordKey) { d.unpacked.add(n >> packShift) }

const insertUnpacked = "INSERT OR REPLACE INTO pack (n, mark, data) VALUES (?, ?, NULL)"
