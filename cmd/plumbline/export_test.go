package main

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
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
