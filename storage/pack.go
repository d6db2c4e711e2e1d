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
	// Head is nil when one of the records has changed since, or there are new ones.
	Head []byte
	// Parts are by the caller's names, of which it can have only some read.
	Parts map[string][]byte
}

// StoredPack is one that was read.
type StoredPack struct {
	// First is the first record's number; the pack reaches PackSize numbers on.
	First Number
	Head  []byte // see Pack
	// Parts are those asked for, in that order: nil for one that it doesn't have.
	Parts [][]byte
	// Damaged is set when something of it isn't what was stored; Head is nil then.
	Damaged bool
	mark    Mark
}

// damaged makes it one to be made anew.
func (p *StoredPack) damaged() { p.Head, p.Damaged = nil, true }

// Packs reads the packs of a kind with some of their parts, and the moment at
// which they were so. What refers to a pack's records, or is one with them,
// doesn't bear on it.
func (s *Store) Packs(ctx context.Context, kind entry.Kind, parts []string) ([]StoredPack, Mark, error) {
	mark := s.held.Load().fold.mark // before the read, as with summaries
	var packs []StoredPack
	err := s.readers.snapshot(ctx, func(q querier) (err error) {
		packs, err = q.packs(kind, parts)
		return err
	})
	return packs, mark, failure("read packs", err)
}

func (q querier) packs(kind entry.Kind, parts []string) ([]StoredPack, error) {
	from, to := keysOf(kind)
	from, to = from>>packShift, to>>packShift
	var packs []StoredPack
	err := q(func(scan func(...any) error) error {
		var p StoredPack
		err := scan(&p.First, &p.mark, &p.Head)
		if head, sound := unsummed(p.Head, "", p.First, p.mark); sound {
			p.Head = head
		} else if p.Head != nil {
			p.damaged()
		}
		p.First, p.Parts = p.First<<packShift, make([][]byte, len(parts))
		packs = append(packs, p)
		return err
	}, "SELECT n, mark, data FROM pack WHERE n BETWEEN ? AND ? ORDER BY n", from, to)
	for i, part := range parts {
		if err == nil {
			err = q.parts(packs, i, part, from, to)
		}
	}
	return packs, err
}

// parts reads one part of all packs.
func (q querier) parts(packs []StoredPack, i int, part string, from, to Number) error {
	at := 0
	return q(func(scan func(...any) error) error {
		var n Number
		var mark Mark
		var data []byte
		if err := scan(&n, &mark, &data); err != nil {
			return err
		}
		for at < len(packs) && packs[at].First < n<<packShift {
			at++
		}
		if at == len(packs) || packs[at].First != n<<packShift {
			return nil
		}
		if data, sound := unsummed(data, part, n, mark); !sound {
			packs[at].damaged()
		} else if packs[at].mark == mark {
			packs[at].Parts[i] = data
		}
		return nil
	}, "SELECT n, mark, data FROM pack_part WHERE part = ? AND n BETWEEN ? AND ? ORDER BY n", []byte(part), from, to)
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
		// The type isn't in the index: a damaged one would name made packs for ever.
	}, "SELECT n FROM pack WHERE data IS NULL AND typeof(data) = 'null' AND n BETWEEN ? AND ? ORDER BY n", from>>packShift, to>>packShift)
	return firsts, mark, failure("read what isn't packed", err)
}

// Packed reads what the records of a pack show, those without a value left out,
// retired ones not. What is called with each must not call the store.
func (s *Store) Packed(ctx context.Context, first Number, each func(Number, Shown)) error {
	err := s.readers.bind(ctx).shown(func(n Number, is Shown) error {
		each(n, is)
		return nil
	}, "WHERE r.state IS NOT NULL AND r.n BETWEEN ? AND ? ORDER BY r.n", first, first+PackSize-1)
	return failure("read a pack's records", err)
}

// At reads records by their numbers.
func (s *Store) At(ctx context.Context, numbers []Number) (map[Number]Row, error) {
	found := make(map[Number]Row, len(numbers))
	for some := range slices.Chunk(numbers, lookAtOnce) {
		args := make([]any, lookAtOnce) // one statement for all
		for i := range args {
			args[i] = some[min(i, len(some)-1)]
		}
		err := s.readers.bind(ctx).records(func(r stored) error {
			if live(r.Record) {
				found[r.n] = r.Row
			}
			return nil
		}, "WHERE r.state IS NOT NULL AND r.n IN ("+marks(lookAtOnce)+")", args...)
		if err != nil {
			return nil, failure("read records", err)
		}
	}
	return found, nil
}

// NumberOf returns a record's number; false when it isn't held.
func (s *Store) NumberOf(ctx context.Context, id entry.RecordID) (Number, bool, error) {
	n, held, err := s.held.Load().numberOf(s.readers.bind(ctx), id)
	return n, held, failure("find record", err)
}

// PutPacks stores what was made of packs' records that were read at or after
// the mark, once nothing else is being stored. A pack of which a record has
// changed since stays as it is.
func (s *Store) PutPacks(ctx context.Context, mark Mark, packs map[Number]Pack) error {
	s.writing.Lock()
	defer s.writing.Unlock()
	return s.putPacks(ctx, mark, packs)
}

// OfferPacks is PutPacks for somebody who waits for more than this: while
// something else is being stored, or in a file that is only read, nothing is, and
// false returned.
func (s *Store) OfferPacks(ctx context.Context, mark Mark, packs map[Number]Pack) (bool, error) {
	if s.readOnly || !s.writing.TryLock() {
		return false, nil
	}
	defer s.writing.Unlock()
	return true, s.putPacks(ctx, mark, packs)
}

func (s *Store) putPacks(ctx context.Context, mark Mark, packs map[Number]Pack) error {
	if len(packs) == 0 {
		return nil
	}
	var made []recordKey
	err := s.updateLocked(ctx, "store packs", func() error {
		for _, first := range slices.Sorted(maps.Keys(packs)) {
			n := first >> packShift
			if s.unpacked.after(mark, n) {
				continue
			}
			made = append(made, n)
			if err := s.writer.putPack(n, mark, packs[first]); err != nil {
				return err
			}
		}
		return nil
	})
	if err == nil {
		s.unpacked.made(made)
	}
	return err
}

func (w *connection) putPack(n Number, mark Mark, p Pack) error {
	var changed Mark
	if held, err := querier(w.query).one("SELECT mark FROM pack WHERE n = ?", []any{n}, &changed); err != nil || held && changed > mark {
		return err
	}
	if err := w.exec("INSERT OR REPLACE INTO pack (n, mark, data) VALUES (?, ?, ?)", n, mark, summed(p.Head, "", n, mark)); err != nil {
		return err
	}
	for part, data := range p.Parts {
		if err := w.exec("INSERT OR REPLACE INTO pack_part (part, n, mark, data) VALUES (?, ?, ?, ?)", []byte(part), n, mark, summed(data, part, n, mark)); err != nil {
			return err
		}
	}
	return nil
}

// unpack notes that a pack isn't what its records are any more.
func (d *draft) unpack(n recordKey) { d.unpacked.add(n >> packShift) }

const insertUnpacked = "INSERT OR REPLACE INTO pack (n, mark, data) VALUES (?, ?, NULL)"
