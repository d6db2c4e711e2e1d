package storage

import (
	"context"
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

// roomAtOnce is how many of them are written in one go, for which a save may have
// to wait.
const roomAtOnce = 256 << 10

// MakeRoom sees that the next commits find room in the log beside the file: at
// first by zeros, later, once they have used it up, by letting them begin at its
// start again. It does a little, and reports whether there is more to do.
func (s *Store) MakeRoom(ctx context.Context) (more bool, err error) {
	more, used, err := s.lengthenLog()
	if err != nil {
		return false, fmt.Errorf("make room: %w", err)
	}
	if used {
		// On a reader's connection: it holds up nobody who writes.
		_, err = s.readers.bind(ctx).one("PRAGMA wal_checkpoint(PASSIVE)", nil, new(int), new(int), new(int))
	}
	return more, failure("make room", err)
}

// lengthenLog reports whether it is to be called again, and whether commits have
// made the log longer than it was. Nobody else writes there meanwhile.
func (s *Store) lengthenLog() (more, used bool, err error) {
	s.writing.Lock()
	defer s.writing.Unlock()
	f, err := os.OpenFile(s.path+logEnd, os.O_WRONLY, 0)
	if errors.Is(err, fs.ErrNotExist) {
		return false, false, nil // nothing was written yet
	}
	if err != nil {
		return false, false, err
	}
	info, err := f.Stat()
	if err != nil {
		return false, false, errors.Join(err, f.Close())
	}
	size := info.Size()
	if size >= roomSize {
		used, s.room = size > s.room, size
		return false, used, f.Close()
	}
	most := min(size+roomAtOnce, roomSize)
	if extend(f, size, most) {
		s.room, more = most, most < roomSize
	}
	return more, false, f.Close()
}

// extend writes zeros behind the end of the log. Where there is no space for all
// of them it leaves none: commits need what there is.
func extend(f *os.File, from, to int64) bool {
	_, err := f.WriteAt(make([]byte, to-from), from)
	if err == nil {
		err = f.Sync()
	}
	if err != nil {
		_ = f.Truncate(from) // what stays is written over
	}
	return err == nil
}
