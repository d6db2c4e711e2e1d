package node

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"

	"plumbline/storage"
	"plumbline/sync/entry"
)

// Backup writes everything to one new file while the node runs, without the
// secrets by which this laptop continues its logs.
func (n *Node) Backup(ctx context.Context, path string) (int64, uint64, error) {
	if !filepath.IsAbs(path) {
		return 0, 0, refuse(ErrInvalid, "a backup needs an absolute path, not %q", path)
	}
	if err := n.staffed(); err != nil {
		return 0, 0, err
	}
	counts, err := n.store.Counts(ctx)
	if err != nil {
		return 0, 0, failure(err)
	}
	if err := n.store.Backup(ctx, path, nil); err != nil {
		return 0, 0, failure(err)
	}
	info, err := os.Stat(path)
	if err != nil {
		return 0, 0, err
	}
	return info.Size(), uint64(counts.Entries), nil
}

// Restore lays a backup into an empty data folder, or over a database that has
// never held anything, as any command makes on a new laptop. It can be read at
// once. A laptop that has its keys still writes on, in a new log; another one has
// to join as a new laptop first.
func Restore(ctx context.Context, backup, data, state string) (err error) {
	target := filepath.Join(data, databaseFile)
	hollow, err := hollowed(ctx, data)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, hollow.release()) }()
	if err := sound(ctx, backup); err != nil {
		return err
	}
	for _, folder := range []string{data, state} {
		if err := os.MkdirAll(folder, 0o700); err != nil {
			return fmt.Errorf("make folder: %w", err)
		}
	}
	if err := sweep(data, passingRestore); err != nil {
		return err
	}
	if err := hollow.remove(); err != nil {
		return err
	}
	return copyWhole(backup, target)
}

// sound opens the backup for reading and verifies all of it: who restores a
// damaged one has no other folder to notice it by.
func sound(ctx context.Context, backup string) (err error) {
	if _, err := os.Stat(backup); errors.Is(err, fs.ErrNotExist) {
		return refuse(ErrNotFound, "there is no file %s", backup)
	}
	store, err := storage.Open(ctx, backup, storage.Options{ReadOnly: true, Projector: projector{}})
	if err != nil {
		return unreadable(backup, err)
	}
	defer func() { err = errors.Join(err, store.Close()) }()
	report, err := store.Verify(ctx, nil)
	if err != nil {
		return unreadable(backup, err)
	}
	if len(report.Faults) > 0 {
		return refuse(ErrInvalid, "%s is damaged: %s; restore an older backup, or let this laptop join the staff again", backup, report.Faults[0])
	}
	return nil
}

func unreadable(backup string, err error) error {
	switch {
	case errors.Is(err, storage.ErrCorrupt):
		return refuse(ErrInvalid, "%s is no backup, or a damaged one: restore an older one, or let this laptop join the staff again", backup)
	case errors.Is(err, context.Canceled):
		return err
	case errors.Is(err, storage.ErrFull):
		return refuse(ErrFull, "the disk is full: %s was not restored. Free some space and try again", backup)
	}
	return refuse(ErrInvalid, "%s can't be read as a backup (%v): restore an older one, or let this laptop join the staff again", backup, err)
}

func copyWhole(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.CreateTemp(filepath.Dir(to), passingRestore)
	if err != nil {
		return fmt.Errorf("write %s: %w", to, err)
	}
	defer os.Remove(out.Name())
	if _, err = io.Copy(out, in); err == nil {
		err = out.Sync()
	}
	if err := errors.Join(err, out.Close()); errors.Is(err, syscall.ENOSPC) {
		return refuse(ErrFull, "the disk is full: %s was not restored. Free some space and try again", to)
	} else if err != nil {
		return fmt.Errorf("write %s: %w", to, err)
	}
	if err := os.Rename(out.Name(), to); err != nil {
		return fmt.Errorf("write %s: %w", to, err)
	}
	return syncFolder(filepath.Dir(to))
}

// failure turns the storage's reasons into the node's, with a sentence that
// says what to do.
func failure(err error) error {
	switch {
	case errors.Is(err, storage.ErrFull):
		return refuse(ErrFull, "the disk is full: nothing of this was saved. Free some space and try again")
	case errors.Is(err, storage.ErrUnsynced):
		return refuse(ErrFull, "the disk doesn't confirm what was written. See that it is there, start again, and look whether this was saved before you repeat it")
	case errors.Is(err, storage.ErrReadOnly):
		return refuse(ErrFull, "the database can't be written to: nothing of this was saved. Look at the folder's rights")
	case errors.Is(err, storage.ErrDisk):
		return refuse(ErrFull, "the disk refuses to be read or written: nothing of this was saved. See that it is there, and how large a file may be (%v)", err)
	case errors.Is(err, storage.ErrExists):
		return refuse(ErrExists, "%v", err)
	case errors.Is(err, entry.ErrTooLarge):
		return refuse(ErrInvalid, "%v", err)
	case errors.Is(err, storage.ErrBlocked):
		return refuse(ErrNewer, "%v", err)
	}
	return err
}
