package storage

import (
	"context"
	"errors"
	"io/fs"
	"os"

	"plumbline/sync/entry"
)

// Restore makes a new database at path of a backup: a copy that has the tables of
// this program, whichever earlier one made the backup. All of it is verified, and
// what is derived made anew where it doesn't hold. The report says what doesn't hold
// even so: then, and with an error, nothing is left at path. What is there is never
// overwritten.
//
// A database that a laptop wrote to, with the log beside it, is as good as a backup.
// Its secrets aren't copied, nor is anything of it changed. In the new one the
// caller's values (see [Store.SetMeta]) are these besides.
func Restore(ctx context.Context, backup, path string, o Options, meta map[string][]byte) (Report, error) {
	if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
		return Report{}, failure("restore into "+path, errors.Join(ErrExists, err))
	}
	report, err := restore(ctx, backup, path, o, meta)
	if err != nil || len(report.Faults) > 0 {
		for _, end := range []string{"", "-journal", logEnd, "-shm"} {
			_ = os.Remove(path + end) // most of them aren't there
		}
	}
	return report, err
}

func restore(ctx context.Context, backup, path string, o Options, meta map[string][]byte) (Report, error) {
	// Said before anything is copied: it may be no database at all.
	s, err := Open(ctx, backup, Options{ReadOnly: true, Projector: o.Projector})
	if err == nil {
		err = s.Close()
	}
	if err != nil && !errors.Is(err, ErrOlder) {
		return Report{}, err
	}
	if err := copyOf(ctx, backup, path); err != nil {
		return Report{}, failure("copy "+backup, unlike(err))
	}
	if s, err = Open(ctx, path, o); err != nil {
		return Report{}, err
	}
	report, err := s.verifyMade(ctx)
	for key, value := range meta {
		if err == nil {
			err = s.SetMeta(ctx, key, value)
		}
	}
	if err = errors.Join(err, s.CloseWhole()); err != nil {
		return report, err
	}
	return report, failure("keep the copy of "+backup, flushFile(path))
}

// verifyMade verifies, and makes anew what isn't lost.
func (s *Store) verifyMade(ctx context.Context) (Report, error) {
	if s.Staff() == (entry.StaffID{}) {
		return Report{}, ErrNoStaff
	}
	report, err := s.Verify(ctx, nil)
	if err != nil || report.Lost > 0 || len(report.Faults) == 0 || s.Blocked() {
		return report, err
	}
	if err := s.Rebuild(ctx); err != nil {
		return report, err
	}
	return s.Verify(ctx, nil)
}
