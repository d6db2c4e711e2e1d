package storage

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"
)

// Backup writes the database to a new file while the store is in use: the
// state of one moment, without free pages and without the secrets. The file
// appears under its name when it is complete and on disk. progress may be nil;
// it is told roughly how much of the file is written, in bytes.
func (s *Store) Backup(ctx context.Context, path string, progress func(done, total int)) error {
	if err := s.backup(ctx, path, progress); err != nil {
		return failure("back up to "+path, err)
	}
	return nil
}

func (s *Store) backup(ctx context.Context, path string, progress func(done, total int)) error {
	if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
		return errors.Join(ErrExists, err)
	}
	// Whoever opens the backup may only read it.
	unindexed := s.indexKind(ctx, 0)
	if unindexed != nil && !RefusedByDisk(unindexed) {
		return unindexed
	}
	s.copying.Lock()
	defer s.copying.Unlock()
	dir, err := s.makePassing(filepath.Dir(path))
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	part := filepath.Join(dir, "part.db")
	stop := s.watch(ctx, part, progress)
	err = copyOf(ctx, s.path, part)
	stop()
	if err == nil && unindexed != nil { // it may lie on a disk that has room
		err = s.indexCopy(ctx, part)
	}
	if err != nil {
		return err
	}
	if err := flushFile(part); err != nil {
		return err
	}
	// Link, which unlike Rename never overwrites; where a file system has no
	// links, rename what was just seen to be free.
	if err := os.Link(part, path); err != nil {
		if errors.Is(err, fs.ErrExist) {
			return ErrExists
		}
		if err := os.Rename(part, path); err != nil {
			return err
		}
	}
	return flushFolder(filepath.Dir(path))
}

// makePassing makes a folder for the unfinished file. Its name is always the
// same for one database, so that what a backup left that was killed goes with
// the next one.
func (s *Store) makePassing(beside string) (string, error) {
	machine, err := os.Hostname() // others may back up into the same folder
	if err != nil {
		return "", fmt.Errorf("read the machine's name: %w", err)
	}
	path, err := filepath.Abs(s.path)
	if err != nil {
		return "", err
	}
	name := sha256.Sum256([]byte(machine + "\x00" + path))
	dir := filepath.Join(beside, fmt.Sprintf(".backup-%x", name[:8]))
	if err := os.RemoveAll(dir); err != nil {
		return "", err
	}
	err = os.Mkdir(dir, 0o700)
	if errors.Is(err, fs.ErrNotExist) { // the passing name would only puzzle
		err = fmt.Errorf("there is no folder %s", beside)
	}
	return dir, err
}

// copyOf writes one moment of a database to a new file, which is its user's alone,
// without the secrets. It uses a connection of its own: those of the readers refuse to
// write anything at all.
func copyOf(ctx context.Context, database, part string) error {
	if err := makeOwn(part); err != nil {
		return err
	}
	c, err := openConnection(ctx, database, []string{"busy_timeout(10000)"}, true)
	if err != nil {
		return err
	}
	err = c.execContext(ctx, "VACUUM INTO ?", part)
	if err = errors.Join(err, c.close()); err != nil {
		return err
	}
	return withoutSecrets(ctx, part)
}

// makeOwn makes an empty file that is its user's alone. SQLite would let everybody on
// this machine read a database that it makes, and gives what lies beside it the same
// rights.
func makeOwn(path string) error {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	return f.Close()
}

// indexCopy adds to the search index of a copy what isn't in there yet.
func (s *Store) indexCopy(ctx context.Context, part string) error {
	c, err := Open(ctx, part, Options{Projector: s.projector})
	if err != nil {
		return err
	}
	if err := errors.Join(c.indexKind(ctx, 0), c.Close()); err != nil {
		return err
	}
	return withoutSecrets(ctx, part) // once more: it leaves one file, as it was
}

// watch tells now and then how large the new file has grown. SQLite doesn't
// say it by itself.
func (s *Store) watch(ctx context.Context, part string, progress func(done, total int)) (stop func()) {
	if progress == nil {
		return func() {}
	}
	var pages, size int
	q := s.readers.bind(ctx)
	if _, err := q.one("PRAGMA page_count", nil, &pages); err != nil {
		return func() {}
	}
	if _, err := q.one("PRAGMA page_size", nil, &size); err != nil {
		return func() {}
	}
	total := pages * size
	quit, done := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(done)
		tick := time.NewTicker(200 * time.Millisecond)
		defer tick.Stop()
		for {
			select {
			case <-quit:
				return
			case <-tick.C:
				if info, err := os.Stat(part); err == nil {
					progress(min(int(info.Size()), total), total)
				}
			}
		}
	}()
	return func() {
		close(quit)
		<-done
		progress(total, total)
	}
}

// withoutSecrets removes what must not leave the laptop, and its traces: the
// bytes of a deleted row would stay in its page.
func withoutSecrets(ctx context.Context, path string) error {
	c, err := openConnection(ctx, path, []string{"secure_delete(1)", "journal_mode(DELETE)"}, false)
	if err != nil {
		return err
	}
	err = c.exec("DELETE FROM meta WHERE key GLOB ?", Secret+"*")
	return errors.Join(err, c.close())
}

func flushFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// flushFolder makes a new name durable. Where folders can't be flushed the
// system does so by itself.
func flushFolder(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("open folder: %w", err)
	}
	_ = f.Sync()
	return f.Close()
}
