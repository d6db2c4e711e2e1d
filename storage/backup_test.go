package storage

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge/mergetest"
)

// TestBackupWhileWriting backs up a store to which another goroutine writes,
// and reads the copy as it would be read elsewhere.
func TestBackupWhileWriting(t *testing.T) {
	ctx := context.Background()
	w := newWorld(15)
	a := w.Scout(w.Root, 2)
	s := storeOf(t, w)
	s.append(t, all(w)...)
	token := []byte("a token that is valid once 8f41c2")
	check(t, s.SetMeta(ctx, Secret+"token", token))
	check(t, s.SetMeta(ctx, "address", []byte("192.0.2.7")))
	var runs []entry.Run
	for range 300 {
		done := len(w.Facts)
		a.Write(prospect(1), value(1, "elm"))
		runs = append(runs, since(w, done)...)
	}
	var writing sync.WaitGroup
	started := make(chan struct{})
	writing.Go(func() {
		for i, run := range runs {
			if i == 20 {
				close(started)
			}
			if _, err := s.Append(ctx, run); err != nil {
				t.Error(err)
			}
		}
	})
	<-started
	path := filepath.Join(t.TempDir(), "copy.db")
	var told [2]int
	err := s.Backup(ctx, path, func(done, total int) { told = [2]int{done, total} })
	writing.Wait()
	check(t, err)
	if told[0] == 0 || told[0] != told[1] {
		t.Errorf("told that %d of %d is done", told[0], told[1])
	}
	if err := s.Backup(ctx, path, nil); !errors.Is(err, ErrExists) {
		t.Errorf("a second backup to the same name: %v", err)
	}
	data, err := os.ReadFile(path)
	check(t, err)
	if bytes.Contains(data, token) {
		t.Error("the token is in the backup")
	}
	readBackup(t, w, path)
	if value, err := s.Meta(ctx, Secret+"token"); err != nil || !bytes.Equal(value, token) {
		t.Errorf("the token here is %q, %v", value, err)
	}
}

func readBackup(t *testing.T, w *mergetest.World, path string) {
	ctx := context.Background()
	left, err := os.ReadDir(filepath.Dir(path))
	if err != nil || len(left) != 1 {
		t.Errorf("%d files beside the backup, %v", len(left), err)
	}
	c := openAt(t, path, Options{Projector: projector{}, ReadOnly: true})
	report, err := c.Verify(ctx, nil)
	if err != nil || len(report.Faults) > 0 {
		t.Errorf("verify: %v, %v", report.Faults, err)
	}
	held := w.Facts[:report.Entries]
	if len(held) < 20 {
		t.Errorf("%d entries in the backup", len(held))
	}
	same(t, "backup", c.dump(t), dumpOf(w.Read(held...)))
	if value, err := c.Meta(ctx, "address"); err != nil || string(value) != "192.0.2.7" {
		t.Errorf("address %q, %v", value, err)
	}
	if value, err := c.Meta(ctx, Secret+"token"); err != nil || value != nil {
		t.Errorf("token %q, %v", value, err)
	}
	if c.Staff() != w.Staff {
		t.Error("the backup is of another staff")
	}
}

func TestBackupThatIsCancelledLeavesNothing(t *testing.T) {
	w := newWorld(16)
	s := storeOf(t, w)
	s.append(t, all(w)...)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	path := filepath.Join(t.TempDir(), "copy.db")
	if err := s.Backup(ctx, path, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v", err)
	}
	if left, err := os.ReadDir(filepath.Dir(path)); err != nil || len(left) > 0 {
		t.Errorf("%d files are left, %v", len(left), err)
	}
}

// A database is its user's alone, also in a folder that others may look into, and so is
// what SQLite keeps beside it.
func TestADatabaseIsItsUsersAlone(t *testing.T) {
	if runtime.GOOS == "windows" { // which has no such rights
		return
	}
	folder := t.TempDir()
	check(t, os.Chmod(folder, 0o755))
	s, err := Open(t.Context(), filepath.Join(folder, "plumbline.db"), Options{})
	check(t, err)
	defer s.Close()
	check(t, s.SetMeta(t.Context(), "address", []byte("192.0.2.7")))
	files, err := os.ReadDir(folder)
	check(t, err)
	if len(files) < 2 {
		t.Errorf("%v lie there, and no log", files)
	}
	for _, f := range files {
		info, err := f.Info()
		check(t, err)
		if info.Mode().Perm() != 0o600 {
			t.Errorf("%s has mode %o, want 600", f.Name(), info.Mode().Perm())
		}
	}
}
