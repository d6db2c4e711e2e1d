package storage

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"

	"plumbline/sync/merge"
)

// After a crash SQLite takes the write-ahead log up to the first frame that
// doesn't hold, and says nothing: a log may end in the middle of a transaction.
// Where one bit of an early frame has turned, everything behind it would be gone
// in silence, though people were told that it is saved. So a log that wasn't
// closed cleanly is read before SQLite opens it. If it is damaged, the file is
// kept, and of what can be made of it the database opens with the one that holds
// the most by the ledger's own hashes.

const (
	logEnd = "-wal"
	// mending is the damaged log's name until it is decided what becomes of it:
	// where it lies, the log beside the database is only tried.
	mending = logEnd + ".mending"
	// Once it is decided the log beside the database is the one to go on with, and
	// may be written to: the damaged one has another name from then on, and is still
	// to be told of.
	mendedWhole = logEnd + ".mended"
	mendedPart  = logEnd + ".shortened"
)

// decided is the damaged log's name once it is.
func decided(whole bool) string {
	if whole {
		return mendedWhole
	}
	return mendedPart
}

// mender mends the log of one database that isn't open.
type mender struct {
	ctx   context.Context
	path  string
	words func(*merge.Record) string
	by    versions
	log   logState
}

// mended is what a damaged log came to.
type mended struct {
	whole bool
	// refold is set when what is derived has to be made anew.
	refold bool
}

// readLog reads the log as it lies there after a crash; nothing after a clean
// close.
func readLog(path string) (l logState, err error) {
	f, err := os.Open(path + logEnd)
	if errors.Is(err, fs.ErrNotExist) {
		return l, nil
	}
	if err != nil {
		return l, fmt.Errorf("%w (%w)", ErrDisk, err)
	}
	defer f.Close()
	l, err = scanLog(f, pageSizeOf(path))
	if err != nil {
		err = fmt.Errorf("%w (%w)", ErrDisk, err)
	}
	return l, err
}

// pageSizeOf reads the size from the database's header (bytes 16 and 17, where 1
// stands for 65536), to read a log whose own is damaged.
func pageSizeOf(path string) int {
	const usual = 4096
	f, err := os.Open(path)
	if err != nil {
		return usual
	}
	defer f.Close()
	var b [2]byte
	if _, err := f.ReadAt(b[:], 16); err != nil {
		return usual
	}
	size := int(binary.BigEndian.Uint16(b[:]))
	if size == 1 {
		size = 65536
	}
	if !isPageSize(size) {
		return usual
	}
	return size
}

// mendLog looks at the log before the database is opened, and mends it if it is
// damaged; nil if there is nothing to tell.
func (s *Store) mendLog(ctx context.Context) (*mended, error) {
	path := s.path
	for _, whole := range []bool{true, false} {
		if _, err := os.Stat(path + decided(whole)); err == nil {
			return &mended{whole: whole, refold: true}, nil // stopped before it was told
		}
	}
	if err := os.Rename(path+mending, path+logEnd); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%w (%w)", ErrDisk, err)
	}
	log, err := readLog(path)
	if err != nil || !log.damaged() {
		return nil, err
	}
	if err := os.Rename(path+logEnd, path+mending); err != nil {
		return nil, fmt.Errorf("%w (%w)", ErrDisk, err)
	}
	m := &mender{ctx: ctx, path: path, words: s.words(), by: s.builtBy(), log: log}
	done, err := m.choose()
	if err != nil {
		return nil, errors.Join(err, os.Rename(path+mending, path+logEnd))
	}
	// It has to be durable before anything is written: an undecided log would be
	// laid over that.
	if err := os.Rename(path+mending, path+decided(done.whole)); err != nil {
		return nil, fmt.Errorf("%w (%w)", ErrDisk, err)
	}
	return done, flushFolder(filepath.Dir(path))
}

// choose leaves the log beside the database with which it holds the most.
func (m *mender) choose() (*mended, error) {
	all, err := m.try(m.log.mend)
	if err != nil || all.holds {
		return &mended{whole: true, refold: all.refold}, err
	}
	front, err := m.try(m.log.prefix)
	if err != nil {
		return nil, err
	}
	// What was copied into the database already is there without the log.
	none, err := m.try(func(io.Writer, io.Reader) error { return nil })
	if err != nil {
		return nil, err
	}
	switch {
	case none.holds && (!front.holds || none.entries > front.entries):
		return &mended{refold: none.refold}, nil
	case front.holds:
		front, err = m.try(m.log.prefix)
		return &mended{refold: front.refold}, err
	}
	return nil, fmt.Errorf("the log of the last changes, %s%s: %w", m.path, logEnd, ErrCorrupt)
}

// trial is what a database comes to with one log beside it.
type trial struct {
	holds   bool
	entries int
	refold  bool
}

func (m *mender) try(write func(io.Writer, io.Reader) error) (trial, error) {
	if err := m.lay(write); err != nil {
		return trial{}, err
	}
	t, err := m.look()
	if m.ctx.Err() != nil {
		return trial{}, m.ctx.Err()
	}
	// Whatever else is wrong, it doesn't hold.
	t.holds = t.holds && err == nil
	return t, nil
}

// lay puts a log beside the database.
func (m *mender) lay(write func(io.Writer, io.Reader) error) (err error) {
	in, err := os.Open(m.path + mending)
	if err != nil {
		return fmt.Errorf("%w (%w)", ErrDisk, err)
	}
	defer in.Close()
	out, err := os.OpenFile(m.path+logEnd, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600)
	if err != nil {
		return fmt.Errorf("%w (%w)", ErrDisk, err)
	}
	if err = write(out, in); err == nil {
		err = out.Sync()
	}
	switch err = errors.Join(err, out.Close()); {
	case errors.Is(err, syscall.ENOSPC):
		return fmt.Errorf("%w (%w)", ErrFull, err)
	case err != nil:
		return fmt.Errorf("%w (%w)", ErrDisk, err)
	}
	return nil
}

// look reads everything back, without changing anything.
func (m *mender) look() (t trial, err error) {
	c, err := openConnection(m.ctx, m.path, readerPragmas, true)
	if err != nil {
		return t, err
	}
	defer func() { err = errors.Join(err, c.close()) }()
	v := &verifier{ctx: m.ctx, q: c.query, words: m.words}
	if err = c.current(); errors.Is(err, ErrOlder) {
		err = v.pages() // tables of another step can't be read yet
	} else if err == nil {
		err = v.run(m.by)
	}
	if err != nil {
		return t, err
	}
	return trial{holds: v.report.Lost == 0, entries: v.report.Entries, refold: len(v.report.Faults) > 0}, nil
}
