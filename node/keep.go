package node

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"

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

// Restore lays a backup, of this or an earlier plumbline, into an empty data folder,
// or over a database that has never held anything, as any command makes on a new
// laptop. It can be read at once. A laptop that has its keys still writes on, in a new
// log; another one has to join as a new laptop first.
func Restore(ctx context.Context, backup, data, state string) (err error) {
	switch info, err := os.Stat(backup); {
	case errors.Is(err, fs.ErrNotExist):
		return refuse(ErrNotFound, "there is no file %s", backup)
	case err == nil && info.IsDir():
		return refuse(ErrInvalid, "%s is a folder: name the file in it that plumbline backup wrote", backup)
	}
	for _, folder := range []string{data, state} {
		if _, err := os.Stat(folder); err == nil {
			continue
		}
		if err := os.MkdirAll(folder, 0o700); err != nil {
			return fmt.Errorf("make folder: %w", err)
		}
		defer func() {
			if err != nil {
				_ = os.Remove(folder)
			}
		}()
	}
	hollow, err := hollowed(ctx, data)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, hollow.release(err == nil)) }()
	if err := sweep(data, passingRestore); err != nil {
		return err
	}
	unmet, err := json.Marshal(Restored)
	if err != nil {
		return err
	}
	passing := filepath.Join(data, strings.Replace(passingRestore, "*", strconv.Itoa(os.Getpid()), 1))
	defer func() { _ = os.Remove(passing) }() // it isn't there if all went well
	report, err := storage.Restore(ctx, backup, passing, storage.Options{Projector: projector{}}, map[string][]byte{unmetMeta: unmet})
	if err != nil {
		return unrestored(backup, data, err)
	}
	if len(report.Faults) > 0 {
		return refuse(ErrInvalid, "%s is damaged: %s; restore an older backup, or let this laptop join the staff again", backup, report.Faults[0])
	}
	if err := hollow.remove(); err != nil {
		return err
	}
	target := filepath.Join(data, databaseFile)
	if err := os.Rename(passing, target); err != nil {
		return fmt.Errorf("write %s: %w", target, err)
	}
	return syncFolder(data)
}

// unrestored says why there is no database at data.
func unrestored(backup, data string, err error) error {
	var room *storage.NoRoomError
	switch {
	case errors.As(err, &room):
		return roomless("restore", room, "Nothing is known to be wrong with the backup")
	case errors.Is(err, storage.ErrCorrupt), errors.Is(err, storage.ErrNoStaff):
		return refuse(ErrInvalid, "%s is no backup, or a damaged one: restore an older one, or let this laptop join the staff again", backup)
	case errors.Is(err, context.Canceled):
		return err
	case errors.Is(err, storage.ErrNewer):
		return refuse(ErrNewer, "%s was made by a newer plumbline: update this one, then restore it", backup)
	case errors.Is(err, storage.ErrFull):
		return refuse(ErrFull, "the disk is full: %s was not restored. Free some space for %s and try again", backup, data)
	case errors.Is(err, storage.ErrDisk), errors.Is(err, storage.ErrUnsynced), errors.Is(err, storage.ErrReadOnly):
		return refuse(ErrFull, "%s was not restored: a disk refuses to be read or written. See that the backup's and that of %s are there, and try again (%v)", backup, data, err)
	}
	return refuse(ErrInvalid, "%s can't be read as a backup (%v): restore an older one, or let this laptop join the staff again", backup, err)
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
