package main

import (
	"compress/gzip"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"plumbline/storage/storagetest"
)

// TestKilledWhileCopying kills commands that back up and restore, or the node
// that does it for them, at random moments. The file of a backup is there whole
// or not at all; the next attempt goes well without anybody clearing up, and
// leaves nothing of the last one.
func TestKilledWhileCopying(t *testing.T) {
	random := storagetest.Seeded(t)
	mara := newNotebook(t, "mara", "Mara Quill")
	mara.do("init", "--staff", "Harrow County", "--person", "Mara Quill", "--root-file", filepath.Join(t.TempDir(), "root"))
	mara.do("import", "prospect", manyRows(t), "--source", "North list")
	held := mara.status()
	copies := t.TempDir()
	made := 0
	for i := range kills(t, 3) {
		path := filepath.Join(copies, fmt.Sprint("copy-", i))
		if i%2 == 0 {
			mara.start()
		}
		finished := make(chan result)
		go func() { finished <- mara.killable("", "backup", path) }()
		<-time.After(moment(random))
		mara.kill() // the node, if there is one
		mara.killCommand()
		<-finished
		if _, err := os.Stat(path); err == nil {
			made++
		} else {
			mara.do("backup", path)
		}
		restoredWhole(t, path, held)
	}
	mara.do("backup", filepath.Join(copies, "copy-last")) // sweeps what the last kill left
	onlyFiles(t, copies, "copy-*")
	t.Logf("%d backups were finished when they were killed", made)

	whole, earlier := filepath.Join(copies, "copy-0"), earlierBackup(t)
	old := newNotebook(t, "old", "Mara Quill")
	old.do("restore", earlier)
	finished := 0
	for i := range kills(t, 3) {
		from, held, soon := whole, held, moment(random)
		if i%2 == 1 {
			from, held, soon = earlier, old.status(), soon/4
		}
		ira := newNotebook(t, "ira", "Ira Quist")
		ended := make(chan result)
		go func() { ended <- ira.killable("", "restore", from) }()
		<-time.After(soon)
		ira.killCommand()
		<-ended
		if _, err := os.Stat(filepath.Join(ira.data, "plumbline.db")); err == nil {
			finished++
		} else {
			ira.do("restore", from)
		}
		if s := ira.status(); s.Entries != held.Entries || s.StateHash != held.StateHash {
			t.Errorf("restored: %+v, want %+v", s, held)
		}
		ira.do("verify")
		onlyFiles(t, ira.data, "plumbline.db*", "lock")
	}
	t.Logf("%d restores were finished when they were killed", finished)
	mara.do("verify")
	if s := mara.status(); s.Entries != held.Entries || s.StateHash != held.StateHash {
		t.Errorf("the laptop that was backed up: %+v, want %+v", s, held)
	}
}

// earlierBackup unpacks what a program made that knew three steps of tables.
func earlierBackup(t *testing.T) string {
	t.Helper()
	packed, err := os.Open(filepath.Join("..", "..", "node", "testdata", "backups", "step-3.gz"))
	must(t, err)
	defer packed.Close()
	from, err := gzip.NewReader(packed)
	must(t, err)
	data, err := io.ReadAll(from)
	must(t, err)
	path := filepath.Join(t.TempDir(), "earlier")
	must(t, os.WriteFile(path, data, 0o600))
	return path
}

// moment is about as long as the commands take that are to be killed.
func moment(random *rand.Rand) time.Duration {
	return time.Duration(random.IntN(200)) * time.Millisecond
}

// restoredWhole lays a backup into a new folder and looks at all of it.
func restoredWhole(t *testing.T, path string, want standing) {
	t.Helper()
	ira := newNotebook(t, "ira", "Ira Quist")
	ira.do("restore", path) // verifies it
	if s := ira.status(); s.Entries != want.Entries || s.StateHash != want.StateHash {
		t.Errorf("%s restored: %+v, want %+v", path, s, want)
	}
}

// onlyFiles wants nothing in a folder but files of such names.
func onlyFiles(t *testing.T, folder string, patterns ...string) {
	t.Helper()
	entries, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		fits := false
		for _, p := range patterns {
			ok, err := filepath.Match(p, e.Name())
			fits = fits || ok && err == nil
		}
		if !fits {
			t.Errorf("%s was left in %s", e.Name(), folder)
		}
	}
}
