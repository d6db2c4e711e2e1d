package node

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/gofrs/flock"

	"plumbline/storage"
)

// hollow is a database without a single entry, which a backup may take the place
// of. Its folder stays locked meanwhile. nil is none.
type hollow struct {
	target string
	lock   *flock.Flock
}

// beside is what SQLite keeps in files of its own next to a database: it would be
// taken for part of another one.
var beside = []string{"", "-wal", "-shm", "-journal"}

// hollowed looks at what a data folder holds: nil for nothing. It refuses a
// database with entries, one that is in use, and one that can't be read.
func hollowed(ctx context.Context, data string) (*hollow, error) {
	target := filepath.Join(data, databaseFile)
	found := ""
	for _, end := range beside {
		if _, err := os.Stat(target + end); err == nil {
			found = target + end
			break
		}
	}
	if found == "" {
		return nil, nil
	}
	taken := refuse(ErrExists, "%s exists: restore into an empty folder, named by --data, or move that one away first", found)
	if found != target {
		return nil, taken
	}
	h := &hollow{target, flock.New(filepath.Join(data, lockFile))}
	if got, err := h.lock.TryLock(); err != nil || !got {
		return nil, taken
	}
	store, err := storage.Open(ctx, target, storage.Options{ReadOnly: true, Projector: projector{}})
	if err != nil {
		return nil, errors.Join(taken, h.release())
	}
	empty := store.Empty()
	if err := store.Close(); err != nil || !empty {
		return nil, errors.Join(taken, h.release())
	}
	return h, nil
}

func (h *hollow) remove() error {
	if h == nil {
		return nil
	}
	for _, end := range beside {
		if err := os.Remove(h.target + end); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("make room for the backup: %w", err)
		}
	}
	return nil
}

func (h *hollow) release() error {
	if h == nil {
		return nil
	}
	return h.lock.Unlock()
}
