package storage

import (
	"context"
	"errors"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// openSound opens the connection that writes, and refuses a file as damaged for
// what SQLite has other words for.
func (s *Store) openSound(ctx context.Context) (*connection, error) {
	c, err := openWriter(ctx, s.path, s.readOnly)
	if refusesWrites(err) {
		reader, failed := openConnection(ctx, s.path, readerPragmas, true)
		if failed != nil {
			return nil, err
		}
		return nil, errors.Join(reader.soundHeader(), err, reader.close())
	}
	if err != nil {
		return nil, err
	}
	if err := c.soundHeader(); err != nil {
		return nil, errors.Join(err, c.close())
	}
	return c, nil
}

// soundHeader refuses a file whose write version is none that SQLite has: it
// would be opened, and each write refused as if the disk did that. See
// https://www.sqlite.org/fileformat2.html#file_format_version_numbers.
func (w *connection) soundHeader() error {
	var version []byte
	_, err := querier(w.query).one("SELECT substr(data, 19, 1) FROM sqlite_dbpage WHERE pgno = 1", nil, &version)
	if err != nil || len(version) == 0 { // an empty file
		return err
	}
	const rollback, ahead = 1, 2
	if version[0] != rollback && version[0] != ahead {
		return ErrCorrupt
	}
	return nil
}

func refusesWrites(err error) bool {
	var driver *sqlite.Error
	return errors.As(err, &driver) && driver.Code()&0xff == sqlite3.SQLITE_READONLY
}

// unlike turns an error in a statement of this package into a damaged file: the
// statements are sound, so the tables aren't those that the file's number of
// steps says, or in a form that SQLite doesn't know.
func unlike(err error) error {
	var driver *sqlite.Error
	if errors.As(err, &driver) && driver.Code() == sqlite3.SQLITE_ERROR {
		return errors.Join(ErrCorrupt, err)
	}
	return err
}
