package storage

import (
	"errors"
	"os"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"plumbline/sync/entry"
)

// confine lets no file grow beyond a size, as a disk that is full does, until the test
// or what is returned ends it.
func confine(t *testing.T, size int64) (end func()) {
	t.Helper()
	signal.Ignore(syscall.SIGXFSZ) // sent beside the error
	var before syscall.Rlimit
	check(t, syscall.Getrlimit(syscall.RLIMIT_FSIZE, &before))
	limit := before
	limit.Cur = uint64(size)
	check(t, syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit))
	end = func() { check(t, syscall.Setrlimit(syscall.RLIMIT_FSIZE, &before)) }
	t.Cleanup(end)
	return end
}

// large is a store of which the log beside the file holds most.
func large(t *testing.T) *Store {
	w := newWorld(31)
	control, _ := w.Director(w.Root, 1)
	line := w.Scout(control, 2)
	s := storeOf(t, w)
	for i := range 30 {
		first := line.Write(prospect(byte(i)), value(1, strings.Repeat("elm ", 10_000)))
		line.Write(prospect(byte(i)), value(1, strings.Repeat("oak ", 10_000), first))
	}
	s.append(t, all(w)...)
	return s
}

// Where the disk takes no more of a file, its closing says nothing, since the next one
// will do. But a file that is to be moved would be torn apart.
func TestAFileThatIsToBeMovedIsWhole(t *testing.T) {
	for _, to := range []struct {
		what   string
		close  func(*Store) error
		refuse bool
	}{{"stay", (*Store).Close, false}, {"be moved", (*Store).CloseWhole, true}} {
		s := large(t)
		end := confine(t, sizeOf(t, s.path))
		err := to.close(s)
		end()
		if errors.Is(err, ErrDisk) != to.refuse {
			t.Errorf("a file that is to %s: %v", to.what, err)
		}
		if sizeOf(t, s.path+logEnd) == 0 {
			t.Errorf("a file that is to %s: nothing was left beside it", to.what)
		}
	}
	if s := large(t); s.CloseWhole() != nil {
		t.Error("not closed where there is space")
	} else if _, err := os.Stat(s.path + logEnd); err == nil {
		t.Error("something stays beside the file where there is space")
	}
}

func sizeOf(t *testing.T, path string) int64 {
	t.Helper()
	info, err := os.Stat(path)
	check(t, err)
	return info.Size()
}

// filling is a projector with which the disk becomes full while a copy is verified.
type filling struct {
	projector
	fill func()
}

func (f filling) Words(id entry.RecordID, live []entry.Change) string {
	f.fill()
	return f.projector.Words(id, live)
}

// What is restored has what was made anew of it, or is refused.
func TestRestoredOntoADiskThatFillsUp(t *testing.T) {
	s := large(t)
	folder := t.TempDir()
	backup, path := filepath.Join(folder, "backup.db"), filepath.Join(folder, "restored.db")
	s.damage(t, "UPDATE record SET state = NULL")
	check(t, s.Backup(t.Context(), backup, nil))
	full := filling{fill: func() { confine(t, sizeOf(t, path)) }}
	_, err := Restore(t.Context(), backup, path, Options{Projector: full}, nil)
	if !errors.Is(err, ErrDisk) {
		t.Errorf("restored: %v", err)
	}
	if _, err := os.Stat(path); err == nil {
		t.Error("a file was left")
	}
}
