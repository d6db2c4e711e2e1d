package storage

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
)

// roomSize is how many bytes of the log beside the file are written ahead, with
// zeros. A commit that makes a file longer waits for the file system's own
// journal besides; one that writes over what is there doesn't, and takes two
// thirds of the time (measured). SQLite takes what lies behind the last commit
// for what an earlier round left there, since it carries no checksum.
const roomSize = 8 << 20

// makeRoom sees that the next commits find room in the log beside the file: at
// first by zeros, later, once they have used it up, by letting them begin at its
// start again. It is called with writing held, so that nobody else writes there.
func (s *Store) makeRoom() error {
	f, err := os.OpenFile(s.path+"-wal", os.O_WRONLY, 0)
	if errors.Is(err, fs.ErrNotExist) {
		return nil // nothing was written yet
	}
	if err != nil {
		return fmt.Errorf("make room: %w", err)
	}
	info, err := f.Stat()
	if err != nil {
		return errors.Join(fmt.Errorf("make room: %w", err), f.Close())
	}
	size := info.Size()
	used := size > s.room && size >= roomSize
	if size < roomSize && !extend(f, size) {
		return f.Close()
	}
	s.room = max(size, roomSize)
	if err := f.Close(); err != nil || !used {
		return err
	}
	return failure("make room", s.writer.plain("PRAGMA wal_checkpoint(PASSIVE)"))
}

// extend writes zeros behind the end of the log. Where there is no space for all
// of them it leaves none: commits need what there is.
func extend(f *os.File, size int64) bool {
	_, err := f.WriteAt(make([]byte, roomSize-size), size)
	if err == nil {
		err = f.Sync()
	}
	if err != nil {
		_ = f.Truncate(size) // what stays is written over
	}
	return err == nil
}
