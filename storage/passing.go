package storage

import (
	"errors"
	"fmt"
	"os"
	"runtime"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// NoRoomError is returned by Verify when there is no room for the passing file that
// it needs. What was looked at until then holds.
type NoRoomError struct {
	Folder   string
	Variable string // of the environment, that names another folder
	Bytes    int64  // about so many are needed; 0 if it isn't known
	cause    error
}

// The cause isn't unwrapped: it doesn't bear on the store's own file.
func (e *NoRoomError) Error() string {
	return fmt.Sprintf("no room for a passing file of some %d bytes in %s: %v", e.Bytes, e.Folder, e.cause)
}

// roomless tells that a passing database can't grow from what else it may say.
func roomless(err error) error {
	var driver *sqlite.Error
	if !errors.As(err, &driver) {
		return err
	}
	switch driver.Code() & 0xff {
	case sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY:
		folder, variable := passingFolder()
		return &NoRoomError{Folder: folder, Variable: variable, cause: err}
	}
	return err
}

// passingFolder is where SQLite puts files without a name, and the variable of the
// environment by which it is chosen, see https://www.sqlite.org/tempfiles.html,
// section 5.
func passingFolder() (folder, variable string) {
	if runtime.GOOS == "windows" {
		return os.TempDir(), "TMP"
	}
	variable = "TMPDIR"
	if os.Getenv("SQLITE_TMPDIR") != "" {
		variable = "SQLITE_TMPDIR"
	}
	for _, folder := range []string{os.Getenv("SQLITE_TMPDIR"), os.Getenv("TMPDIR"), "/var/tmp", "/usr/tmp"} {
		if info, err := os.Stat(folder); err == nil && info.IsDir() {
			return folder, variable
		}
	}
	return "/tmp", variable
}

// passingBytes is about what the check of the search index needs: its pages twice,
// and the texts that it is made of, which take between one and two times as much.
func (q querier) passingBytes() int64 {
	var pages int64
	if _, err := q.one("SELECT coalesce(sum(length(block)), 0) FROM words_data", nil, &pages); err != nil {
		return 0
	}
	return 4 * pages
}
