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

// hollow is a data folder without a single entry, into which a backup may be laid. It
// stays locked meanwhile: whoever opened it would begin a ledger there that the backup
// takes the place of, and sweep away the copy in the making.
type hollow struct {
	target string
	lock   *flock.Flock
	fresh  bool // the lock's file was made for this
}

// beside is what SQLite keeps in files of its own next to a database: it would be
// taken for part of another one.
var beside = []string{"", "-wal", "-shm", "-journal"}

// hollowed locks a data folder and looks at what it holds. It refuses one that is in
// use, a database with entries, and one that can't be read.
func hollowed(ctx context.Context, data string) (*hollow, error) {
	h := &hollow{target: filepath.Join(data, databaseFile), lock: flock.New(filepath.Join(data, lockFile))}
	_, err := os.Stat(h.lock.Path())
	h.fresh = errors.Is(err, fs.ErrNotExist)
	found := h.found()
	got, err := h.lock.TryLock()
	switch {
	case found != "" && (err != nil || !got):
		return nil, takenBy(found)
	case err != nil:
		return nil, fmt.Errorf("lock %s: %w", data, err)
	case !got:
		return nil, refuse(ErrInUse, "the data folder %s is in use by another plumbline: wait until that one has ended, or name another folder with --data", data)
	}
	if found = h.found(); found != "" && (found != h.target || !h.empty(ctx)) {
		return nil, errors.Join(takenBy(found), h.release(false))
	}
	return h, nil
}

func takenBy(found string) error {
	return refuse(ErrExists, "%s exists: restore into an empty folder, named by --data, or move that one away first", found)
}

// found names what there is of a database; "" for nothing.
func (h *hollow) found() string {
	for _, end := range beside {
		if _, err := os.Stat(h.target + end); err == nil {
			return h.target + end
		}
	}
	return ""
}

// empty reports whether the database can be read and has never held anything.
func (h *hollow) empty(ctx context.Context) bool {
	store, err := storage.Open(ctx, h.target, storage.Options{ReadOnly: true, Projector: projector{}})
	if err != nil {
		return false
	}
	empty := store.Empty()
	return store.Close() == nil && empty
}

func (h *hollow) remove() error {
	if err := removeDatabase(h.target); err != nil {
		return fmt.Errorf("make room for the backup: %w", err)
	}
	return nil
}

func removeDatabase(path string) error {
	for _, end := range beside {
		if err := os.Remove(path + end); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return nil
}

// release gives the lock back. Where nothing was laid down the folder is left as it was.
func (h *hollow) release(laid bool) error {
	if !laid && h.fresh {
		_ = os.Remove(h.lock.Path()) // Windows lets it lie, which harms nothing
	}
	return h.lock.Unlock()
}
