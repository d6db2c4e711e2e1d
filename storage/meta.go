package storage

import (
	"context"
	"encoding/binary"
	"fmt"
	"strings"

	"plumbline/sync/merge"
	"plumbline/sync/wire"
)

// Secret begins the keys of what must not leave the laptop: a backup is
// without them.
const Secret = "secret."

// Keys of this package. They begin with a letter that callers can't use.
const (
	own      = "="
	keyStaff = own + "staff"
	keyFold  = own + "fold"
)

// Meta reads a value that the caller keeps in the database; nil for none.
func (s *Store) Meta(ctx context.Context, key string) ([]byte, error) {
	var value []byte
	_, err := s.readers.bind(ctx).one("SELECT value FROM meta WHERE key = ?", []any{key}, &value)
	return value, failure("read "+key, err)
}

// SetMeta stores a value, durably; nil removes it.
func (s *Store) SetMeta(ctx context.Context, key string, value []byte) error {
	if strings.HasPrefix(key, own) {
		return fmt.Errorf("key %q: keys that begin with %q are the store's own", key, own)
	}
	return s.update(ctx, "store "+key, func() error { return s.writer.setMeta(key, value) })
}

// update runs a transaction that changes nothing in memory.
func (s *Store) update(ctx context.Context, doing string, do func() error) error {
	s.writing.Lock()
	defer s.writing.Unlock()
	return s.updateLocked(ctx, doing, do)
}

// updateLocked is update for a caller that holds writing.
func (s *Store) updateLocked(ctx context.Context, doing string, do func() error) error {
	if s.readOnly {
		return fmt.Errorf("%s: %w", doing, ErrReadOnly)
	}
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("%s: %w", doing, err)
	}
	return failure(doing, s.writer.transact(do))
}

func (w *connection) setMeta(key string, value []byte) error {
	if value == nil {
		return w.exec("DELETE FROM meta WHERE key = ?", key)
	}
	return w.exec("INSERT OR REPLACE INTO meta (key, value) VALUES (?, ?)", key, value)
}

// tablesVersion changes when this package derives something else from the
// same entries.
const tablesVersion = 1

// versions is what the derived tables depend on besides the entries.
type versions struct{ Rules, Tables, Projector int }

// fold says how far the derived tables go and by what they were built. It is
// stored with each transaction.
type fold struct {
	hash merge.StateHash
	mark Mark
	by   versions
	// behind is set while entries are held that weren't folded.
	behind bool
}

func (f fold) encode() []byte {
	hash := f.hash.Bytes()
	b := append(make([]byte, 0, 64), hash[:]...)
	b = binary.AppendVarint(b, int64(f.mark))
	for _, v := range []int{f.by.Rules, f.by.Tables, f.by.Projector} {
		b = binary.AppendVarint(b, int64(v))
	}
	if f.behind {
		return append(b, 1)
	}
	return append(b, 0)
}

func decodeFold(data []byte) (fold, error) {
	d := wire.Decoder{Rest: data}
	f := fold{hash: merge.StateHashOf(d.Array32()), mark: Mark(d.Varint())}
	for _, v := range []*int{&f.by.Rules, &f.by.Tables, &f.by.Projector} {
		*v = int(d.Varint())
	}
	f.behind = d.Byte() == 1
	return f, d.Done()
}
