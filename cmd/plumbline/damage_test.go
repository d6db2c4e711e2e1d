package main

import (
	"bytes"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"plumbline/storage/storagetest"
)

// harmRounds is how often each harm is done.
const harmRounds = 4

// harms change a file's bytes as a failing disk does.
var harms = []struct {
	name string
	do   func(random *rand.Rand, data []byte) []byte
}{
	{"a bit turned", func(r *rand.Rand, data []byte) []byte {
		data[r.IntN(len(data))] ^= 1 << r.IntN(8)
		return data
	}},
	{"a page of zeros", func(r *rand.Rand, data []byte) []byte {
		clear(pageOf(r, data))
		return data
	}},
	{"a page of noise", func(r *rand.Rand, data []byte) []byte {
		page := pageOf(r, data)
		for i := range page {
			page[i] = byte(r.Uint32())
		}
		return data
	}},
	{"one page in the place of another", func(r *rand.Rand, data []byte) []byte {
		copy(pageOf(r, data), bytes.Clone(pageOf(r, data)))
		return data
	}},
	{"cut short", func(r *rand.Rand, data []byte) []byte { return data[:r.IntN(len(data))] }},
	{"the beginning damaged", func(r *rand.Rand, data []byte) []byte {
		data[r.IntN(100)] ^= 1 << r.IntN(8)
		return data
	}},
	{"empty", func(*rand.Rand, []byte) []byte { return nil }},
}

// pageOf is a page of SQLite's usual size.
func pageOf(r *rand.Rand, data []byte) []byte {
	const size = 4096
	at := r.IntN(max(1, len(data)/size)) * size
	return data[at:min(len(data), at+size)]
}

// TestADamagedDatabase damages a database in many ways and works with each. A
// command does what it is for, or says what is wrong and what to do; verify
// finds what is missing; nothing hangs, and nothing makes a new database in the
// place of the damaged one.
func TestADamagedDatabase(t *testing.T) {
	random := storagetest.Seeded(t)
	mara := newNotebook(t, "mara", "Mara Quill")
	mara.do("init", "--staff", "Harrow County", "--person", "Mara Quill", "--root-file", filepath.Join(t.TempDir(), "root"))
	mara.do("import", "prospect", filepath.Join("testdata", "job", "class.csv"), "--source", "North list")
	mara.do("add", "note", "prospect=Orrin Vale", "text=Late hands.")
	want := mara.texts("list", "--columns", "name")
	database := filepath.Join(mara.data, "plumbline.db")
	sound, err := os.ReadFile(database)
	if err != nil {
		t.Fatal(err)
	}
	clean, told := 0, 0
	for _, harm := range harms {
		for range harmRounds {
			before := harm.do(random, bytes.Clone(sound))
			for _, beside := range []string{"-wal", "-shm"} {
				_ = os.Remove(database + beside) // of the last round; there may be none
			}
			if err := os.WriteFile(database, before, 0o600); err != nil {
				t.Fatal(err)
			}
			listed := mara.try("list", "--columns", "name", "--json")
			verified := mara.try("verify")
			for what, r := range map[string]result{"list": listed, "verify": verified, "status": mara.try("status"), "add": mara.try("add", "note", "prospect=Orrin Vale", "text=Still here.")} {
				harmless(t, harm.name+": "+what, r)
			}
			if verified.code != exitDone {
				told++
				continue
			}
			clean++
			if got := mara.texts("list", "--columns", "name"); got != want {
				t.Errorf("%s: verify finds nothing, and the list is\n%s\nwant\n%s", harm.name, got, want)
			}
		}
	}
	t.Logf("%d times nothing was hurt that counts, %d times verify or opening told of it", clean, told)
	if told < len(harms) {
		t.Error("too little was hurt to show anything")
	}
	if err := os.WriteFile(database, sound, 0o600); err != nil {
		t.Fatal(err)
	}
	mara.do("verify")
}

// TestADamagedLogAfterACrash kills a node and damages the file of its last
// changes. It is told once, and what was lost comes back from the other laptop.
func TestADamagedLogAfterACrash(t *testing.T) {
	mara, tobin, _ := newStaff(t)
	mara.start()
	tobin.start()
	linkUp(t, tobin, mara)
	alike(t, mara, tobin)
	tobin.do("import", "prospect", filepath.Join("testdata", "job", "class.csv"), "--source", "North list")
	for _, text := range []string{"Late hands.", "Early hands.", "No hands."} {
		tobin.do("add", "note", "prospect=Orrin Vale", "text="+text)
	}
	alike(t, mara, tobin)
	want := mara.status()
	tobin.kill()
	path := filepath.Join(tobin.data, "plumbline.db-wal")
	log, err := os.ReadFile(path)
	must(t, err)
	// Where SQLite's frames begin: https://www.sqlite.org/fileformat2.html#walformat
	const header, frame = 32, 24 + 4096
	last := 0 // of the frames with the header's salt; zeros may lie behind them
	for at := header; at+frame <= len(log) && bytes.Equal(log[at+8:at+16], log[16:24]); at += frame {
		last++
	}
	if last < 12 {
		t.Fatalf("only %d pages are in the log", last)
	}
	for n := last / 3; n < last-1; n++ {
		for i := range 4096 {
			log[header+n*frame+24+i] ^= 0x5a // or it is mended
		}
	}
	must(t, os.WriteFile(path, log, 0o600))
	told := tobin.do("status")
	if !strings.Contains(told, "may be missing. It comes back") || !strings.Contains(told, path+".damaged-1") {
		t.Errorf("status says\n%s", told)
	}
	if again := tobin.do("status"); strings.Contains(again, "damaged") {
		t.Errorf("told again:\n%s", again)
	}
	if now, err := os.ReadFile(path + ".damaged-1"); err != nil || !bytes.Equal(now, log) {
		t.Errorf("the damaged file isn't kept, %v", err)
	}
	if s := tobin.status(); s.Entries >= want.Entries {
		t.Fatal("nothing was lost, so this test shows nothing")
	}
	tobin.do("verify")
	tobin.start()
	alike(t, mara, tobin)
	if s := tobin.status(); s.Entries < want.Entries {
		t.Errorf("%+v, want %+v", s, want)
	}
}

// harmless wants a command to end well or with a sentence for people.
func harmless(t *testing.T, what string, r result) {
	t.Helper()
	if r.code != exitDone {
		t.Run(what, func(t *testing.T) { forPeople(t, lastLine(r.errs)) })
	}
	if strings.Contains(r.out+r.errs, "panic") || strings.Contains(r.errs, "goroutine") {
		t.Errorf("%s panics: %s", what, r.errs)
	}
}

func lastLine(text string) string {
	lines := strings.SplitAfter(strings.TrimSpace(text), "\n")
	return lines[len(lines)-1]
}

// TestADamagedBackup damages a backup in the same ways. It is restored whole, or
// not at all.
func TestADamagedBackup(t *testing.T) {
	random := storagetest.Seeded(t)
	mara := newNotebook(t, "mara", "Mara Quill")
	mara.do("init", "--staff", "Harrow County", "--person", "Mara Quill", "--root-file", filepath.Join(t.TempDir(), "root"))
	mara.do("import", "prospect", filepath.Join("testdata", "job", "class.csv"), "--source", "North list")
	held := mara.status()
	path := filepath.Join(t.TempDir(), "copy")
	mara.do("backup", path)
	sound, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	refused := 0
	for _, harm := range harms {
		for range harmRounds {
			if err := os.WriteFile(path, harm.do(random, bytes.Clone(sound)), 0o600); err != nil {
				t.Fatal(err)
			}
			ira := newNotebook(t, "ira", "Ira Quist")
			r := ira.try("restore", path)
			harmless(t, harm.name+": restore", r)
			_, err := os.Stat(filepath.Join(ira.data, "plumbline.db"))
			if r.code != exitDone {
				refused++
				if err == nil {
					t.Errorf("%s: a backup that was refused left a database", harm.name)
				}
				continue
			}
			if s := ira.status(); s.Entries != held.Entries || s.StateHash != held.StateHash {
				t.Errorf("%s: restored %+v, want %+v", harm.name, s, held)
			}
		}
	}
	t.Logf("%d of %d damaged backups were refused, in the others nothing was hurt that counts", refused, len(harms)*harmRounds)
}

// TestDamagedSecrets damages the files of the state folder. What a start makes
// anew is made anew; a damaged key is told of and kept.
func TestDamagedSecrets(t *testing.T) {
	random := storagetest.Seeded(t)
	mara := newNotebook(t, "mara", "Mara Quill")
	mara.do("init", "--staff", "Harrow County", "--person", "Mara Quill", "--root-file", filepath.Join(t.TempDir(), "root"))
	mara.start() // leaves every file that there is
	mara.do("add", "prospect", "name=Orrin Vale")
	mara.stop()
	held := mara.status()
	files, err := os.ReadDir(mara.state)
	if err != nil || len(files) < 3 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	for _, file := range files {
		path := filepath.Join(mara.state, file.Name())
		sound, err := os.ReadFile(path)
		if err != nil || len(sound) < 100 {
			continue // a lock
		}
		for _, harm := range harms {
			damaged := harm.do(random, bytes.Clone(sound))
			if err := os.WriteFile(path, damaged, 0o600); err != nil {
				t.Fatal(err)
			}
			for _, command := range [][]string{{"status"}, {"add", "note", "prospect=Orrin Vale", "text=Still here."}, {"verify"}} {
				harmless(t, file.Name()+": "+harm.name+": "+command[0], mara.try(command...))
			}
			if now, err := os.ReadFile(path); file.Name() == "identity.json" && (err != nil || !bytes.Equal(now, damaged)) {
				t.Errorf("%s: the damaged key was replaced, %v", harm.name, err)
			}
			if err := os.WriteFile(path, sound, 0o600); err != nil {
				t.Fatal(err)
			}
		}
	}
	mara.do("verify")
	if s := mara.status(); s.Entries < held.Entries {
		t.Errorf("%d entries are left of %d", s.Entries, held.Entries)
	}
}
