package storage

import (
	"errors"
	"fmt"
	"strings"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// Why the store refuses.
var (
	// ErrNoRecord is returned when nothing that counts was ever written to a
	// record.
	ErrNoRecord = errors.New("no such record")
	// ErrDetached is returned when a run doesn't attach to an entry that is
	// held. Nothing of the transaction is stored.
	ErrDetached = errors.New("the run doesn't attach to what is held")
	// ErrSetAsideFull is returned when a device that may no longer write has
	// used up the space that is kept for what it wrote nevertheless.
	ErrSetAsideFull = errors.New("no more space for entries without standing of this device")
	// ErrTooManyLogs is returned when a device has opened as many logs as are kept.
	ErrTooManyLogs = errors.New("no more logs of this device are kept")
	// ErrOtherStaff is returned when a database belongs to another staff than
	// the one named.
	ErrOtherStaff = errors.New("the database belongs to another staff")
	// ErrNoStaff is returned when a run comes before the database has a staff.
	ErrNoStaff = errors.New("the database has no staff yet: found or join one first")
	// ErrFull is returned when the disk is full. The transaction left nothing.
	ErrFull = errors.New("the disk is full: free some space and try again")
	// ErrDisk is returned when the system refuses to read or write the file. The
	// transaction left nothing.
	ErrDisk = errors.New("the disk refuses to be read or written: see that it is there and that the folder may be written to")
	// ErrUnsynced is returned when the disk took a transaction and then failed to
	// make it durable. It left nothing as long as the store is open; whether the
	// disk has it shows at the next start.
	ErrUnsynced = errors.New("the disk doesn't confirm what was written: see that it is there, start again and look whether it was saved")
	// ErrReadOnly is returned for a write to a store that was opened for
	// reading, or whose file may not be written.
	ErrReadOnly = errors.New("the database is open for reading only")
	// ErrCorrupt is returned when the file isn't a sound database.
	ErrCorrupt = errors.New("the database file is damaged: restore a backup, or let this laptop join again")
	// ErrOlder is returned when a file is opened for reading whose tables an earlier
	// program made, or none yet: opening it for writing brings them up to date.
	ErrOlder = errors.New("the database was made by an earlier version of this program: open it for writing once")
	// ErrNewer is returned when the file was written by a newer program.
	ErrNewer = errors.New("the database was written by a newer version of this program: update it")
	// ErrBlocked is returned where folding is asked for while a control entry
	// is held that only a newer program understands.
	ErrBlocked = errors.New("a control entry of a newer version is held: update this program")
	// ErrExists is returned when a backup, or what is restored, would overwrite a file.
	ErrExists = errors.New("the file exists already: name another one")
)

// failure adds what was being done, and turns SQLite's numbers into this
// package's errors.
func failure(doing string, err error) error {
	if err == nil {
		return nil
	}
	err = oneLine{err}
	var driver *sqlite.Error
	if errors.As(err, &driver) {
		// The shared memory beside the file can't grow: there is no space.
		if driver.Code() == sqlite3.SQLITE_IOERR_SHMSIZE {
			return fmt.Errorf("%s: %w (%w)", doing, ErrFull, err)
		}
		if driver.Code() == sqlite3.SQLITE_IOERR_FSYNC {
			return fmt.Errorf("%s: %w (%w)", doing, ErrUnsynced, err)
		}
		switch driver.Code() & 0xff {
		case sqlite3.SQLITE_FULL:
			return fmt.Errorf("%s: %w (%w)", doing, ErrFull, err)
		case sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN:
			return fmt.Errorf("%s: %w (%w)", doing, ErrDisk, err)
		case sqlite3.SQLITE_READONLY:
			return fmt.Errorf("%s: %w (%w)", doing, ErrReadOnly, err)
		case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB:
			return fmt.Errorf("%s: %w (%w)", doing, ErrCorrupt, err)
		}
	}
	if errors.Is(err, errScan) {
		return fmt.Errorf("%s: %w (%w)", doing, ErrCorrupt, err)
	}
	return fmt.Errorf("%s: %w", doing, err)
}

// RefusedByDisk tells that the disk takes nothing, whatever it was given. But for
// [ErrUnsynced] what it has is as it was.
func RefusedByDisk(err error) bool {
	return errors.Is(err, ErrFull) || errors.Is(err, ErrDisk) || errors.Is(err, ErrUnsynced) || errors.Is(err, ErrReadOnly)
}

// oneLine puts what several statements said into one sentence.
type oneLine struct{ error }

func (e oneLine) Error() string { return strings.ReplaceAll(e.error.Error(), "\n", "; ") }

func (e oneLine) Unwrap() error { return e.error }
