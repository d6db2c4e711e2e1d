package main

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// What somebody else writes under the name, while a table is being written, is not
// replaced.
func TestANewFileReplacesNoneThatCameMeanwhile(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "list.csv")
	first := make(chan bool)
	go func() {
		for entries := []os.DirEntry(nil); len(entries) == 0; entries, _ = os.ReadDir(dir) {
		}
		file, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
		if err == nil {
			err = errors.Join(err, file.Close())
		}
		first <- err == nil
	}()
	err := writeNew(name, make([]byte, 64<<20), 0o600)
	if !<-first {
		t.Fatal("the table was there before the other file")
	}
	if info, failed := os.Stat(name); !errors.Is(err, fs.ErrExist) || failed != nil || info.Size() != 0 {
		t.Errorf("%v: %v, %v", err, info, failed)
	}
	left, err := os.ReadDir(dir)
	if err != nil || len(left) != 1 {
		t.Errorf("left beside it: %v, %v", left, err)
	}
}

// Several who write one name at once: one of them has it, whole, and nothing of the
// others stays.
func TestOneOfSeveralNewFilesHasTheName(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "list.csv")
	const writers, size = 8, 1 << 20
	errs := make(chan error, writers)
	for i := range writers {
		go func() { errs <- writeNew(name, bytes.Repeat([]byte{byte('a' + i)}, size), 0o600) }()
	}
	done := 0
	for range writers {
		err := <-errs
		if err == nil {
			done++
		} else if !errors.Is(err, fs.ErrExist) {
			t.Error(err)
		}
	}
	data, err := os.ReadFile(name)
	if done != 1 || err != nil || len(data) != size || !bytes.Equal(data, bytes.Repeat(data[:1], size)) {
		t.Errorf("%d of them wrote it, it has %d bytes: %v", done, len(data), err)
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) != 1 {
		t.Errorf("left beside it: %v, %v", left, err)
	}
}

// Where a file system has no links: a name that is taken is left alone, and one that
// couldn't be filled is free again.
func TestRenamingReplacesNothing(t *testing.T) {
	dir := t.TempDir()
	part, name := filepath.Join(dir, "part"), filepath.Join(dir, "list.csv")
	if err := renameIntoFree(part, name); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("renaming nothing: %v", err)
	}
	for _, content := range []string{"first", "second"} {
		if err := os.WriteFile(part, []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
		if err := renameIntoFree(part, name); (err == nil) != (content == "first") {
			t.Errorf("%s: %v", content, err)
		}
		if data, err := os.ReadFile(name); err != nil || string(data) != "first" {
			t.Errorf("it holds %q: %v", data, err)
		}
	}
}

// A file may have the longest name that a folder takes, 255 bytes (NAME_MAX of Linux
// and macOS, limits.h; Windows has 255 characters).
func TestANewFileMayHaveALongName(t *testing.T) {
	name := filepath.Join(t.TempDir(), strings.Repeat("n", 251)+".csv")
	if err := writeNew(name, []byte("first"), 0o600); err != nil {
		t.Fatal(err)
	}
	if data, err := os.ReadFile(name); err != nil || string(data) != "first" {
		t.Errorf("it holds %q: %v", data, err)
	}
}

// What an export that was killed left behind is removed by the next one into the same
// folder, once nobody can be writing it any more; what is called otherwise is not.
func TestWhatAKilledExportLeftIsRemoved(t *testing.T) {
	dir := t.TempDir()
	old := time.Now().Add(-staleAfter - time.Hour)
	for name, at := range map[string]time.Time{
		".plumbline-ABCDEFGH.part": old, ".plumbline-STILLNEW.part": time.Now(), ".plumbline-notes.part": old,
		".plumbline-ABCDEFGH.csv": old, "plumbline-ABCDEFGH.part": old, ".list.csv.ABCDEFGH.part": old,
	} {
		err := os.WriteFile(filepath.Join(dir, name), nil, 0o600)
		if err = errors.Join(err, os.Chtimes(filepath.Join(dir, name), at, at)); err != nil {
			t.Fatal(err)
		}
	}
	folder := filepath.Join(dir, ".plumbline-AFOLDER2.part")
	if err := errors.Join(os.Mkdir(folder, 0o700), os.Chtimes(folder, old, old), writeNew(filepath.Join(dir, "list.csv"), nil, 0o600)); err != nil {
		t.Fatal(err)
	}
	left, err := os.ReadDir(dir)
	if err != nil || len(left) != 7 {
		t.Errorf("left: %v, %v", left, err)
	}
	if _, err := os.Lstat(filepath.Join(dir, ".plumbline-ABCDEFGH.part")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the stale one: %v", err)
	}
}
