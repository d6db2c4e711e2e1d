package main

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"testing"

	"plumbline/storage/storagetest"
)

// disksName is the variable that says how many cases of each table of bad disks
// and damaged files are tried. What runs at every change is a few of them, chosen
// by a seed that is printed.
const disksName = "PLUMBLINE_TEST_DISKS"

func diskCases(t *testing.T) int {
	t.Helper()
	given := os.Getenv(disksName)
	if given == "" {
		return 12
	}
	cases, err := strconv.Atoi(given)
	if err != nil {
		t.Fatalf("%s: %v", disksName, err)
	}
	return cases
}

// spoiling is something that happens to one file.
type spoiling struct {
	name string
	do   func(path string, sound []byte) error
}

// spoilings of a file: cut short at each length and each byte changed where it is
// small, at each boundary of a page where it is large, and other things in its
// place.
func spoilings(file string, size int) (all []spoiling) {
	const page = 4096
	step := 1
	if size > 4*page {
		step = page
	}
	for at := 0; at < size; at += step {
		for _, length := range []int{at, min(at+1, size-1)} {
			all = append(all, spoiling{fmt.Sprintf("%s cut to %d bytes", file, length), func(path string, sound []byte) error {
				return os.WriteFile(path, sound[:length], 0o600)
			}})
		}
		for _, turn := range []byte{0x01, 0x20, 0x80} {
			all = append(all, spoiling{fmt.Sprintf("%s with byte %d changed by %d", file, at, turn), func(path string, sound []byte) error {
				other := bytes.Clone(sound)
				other[at] ^= turn
				return os.WriteFile(path, other, 0o600)
			}})
		}
	}
	return append(all, inItsPlace(file)...)
}

func inItsPlace(file string) []spoiling {
	return []spoiling{
		{file + " a folder", func(path string, _ []byte) error { return os.Mkdir(path, 0o700) }},
		{file + " a folder with something in it", func(path string, _ []byte) error { return os.MkdirAll(filepath.Join(path, "more"), 0o700) }},
		{file + " a link to nowhere", func(path string, _ []byte) error {
			return os.Symlink(filepath.Join(filepath.Dir(path), "nowhere"), path)
		}},
		{file + " a link to itself", func(path string, _ []byte) error { return os.Symlink(path, path) }},
		{file + " a link to what it was", func(path string, sound []byte) error {
			elsewhere := filepath.Join(filepath.Dir(filepath.Dir(path)), "elsewhere")
			if err := os.WriteFile(elsewhere, sound, 0o600); err != nil {
				return err
			}
			return os.Symlink(elsewhere, path)
		}},
		{file + " closed to everybody", func(path string, sound []byte) error { return os.WriteFile(path, sound, 0) }},
		{file + " for reading only", func(path string, sound []byte) error { return os.WriteFile(path, sound, 0o400) }},
		{file + " somebody else's", func(path string, sound []byte) error {
			if err := os.WriteFile(path, sound, 0o600); err != nil || os.Geteuid() != 0 {
				return err
			}
			return os.Chown(path, 65534, 65534)
		}},
	}
}

// TestEveryDamagedFile damages each file of both folders, or puts something else
// in its place. A command does what it is for, or says what is wrong; a damaged
// key is kept; and once the file is as it was everything is there.
func TestEveryDamagedFile(t *testing.T) {
	random := storagetest.Seeded(t)
	mara := newNotebook(t, "mara", "Mara Quill")
	mara.do("init", "--staff", "Harrow County", "--person", "Mara Quill", "--root-file", filepath.Join(t.TempDir(), "root"))
	mara.start() // leaves every file that there is
	mara.do("open", "--print")
	mara.do("add", "prospect", "name=Orrin Vale")
	mara.stop()
	held, dir := mara.status(), filepath.Dir(mara.data)
	var files []string
	for _, folder := range []string{"data", "state"} {
		entries, err := os.ReadDir(filepath.Join(dir, folder))
		must(t, err)
		for _, e := range entries {
			files = append(files, filepath.Join(folder, e.Name()))
		}
	}
	type line struct {
		spoiling
		file string
	}
	var lines []line
	for _, file := range files {
		sound, err := os.ReadFile(filepath.Join(dir, file))
		must(t, err)
		for _, s := range spoilings(file, len(sound)) {
			lines = append(lines, line{s, file})
		}
	}
	random.Shuffle(len(lines), func(i, j int) { lines[i], lines[j] = lines[j], lines[i] })
	t.Logf("%d cases on %v", len(lines), files)
	for _, l := range lines[:min(len(lines), diskCases(t))] {
		who := newNotebook(t, "mara", mara.person)
		must(t, os.CopyFS(filepath.Dir(who.data), os.DirFS(dir)))
		l.check(t, who, filepath.Join(filepath.Dir(who.data), l.file), held)
		must(t, os.RemoveAll(filepath.Dir(who.data)))
	}
}

func (s spoiling) check(t *testing.T, who *notebook, path string, held standing) {
	sound, err := os.ReadFile(path)
	must(t, err)
	must(t, os.Remove(path))
	if err := s.do(path, sound); err != nil {
		t.Fatalf("%s: %v", s.name, err)
	}
	before := whatIs(t, path)
	told := false
	for _, args := range [][]string{{"status"}, {"list"}, {"add", "note", "prospect=Orrin Vale", "text=Still here."}, {"verify"}} {
		r := who.try(args...)
		harmless(t, s.name+": "+args[0], r)
		told = told || r.code != exitDone
	}
	if filepath.Base(path) == "identity.json" && whatIs(t, path) != before {
		t.Errorf("%s: the damaged key was replaced", s.name)
	}
	if !told {
		who.soundly(t)
		if s := who.status(); s.Entries < held.Entries {
			t.Errorf("%d entries are left of %d", s.Entries, held.Entries)
		}
		return
	}
	must(t, os.RemoveAll(path))
	must(t, os.WriteFile(path, sound, 0o600))
	if r := who.try("verify"); r.code != exitDone {
		t.Errorf("%s, and put back: verify: exit code %d: %s%s", s.name, r.code, r.out, r.errs)
	}
	if now := who.status(); now.Entries < held.Entries {
		t.Errorf("%s, and put back: %d entries are left of %d", s.name, now.Entries, held.Entries)
	}
}

// whatIs tells what lies there, and what it says.
func whatIs(t *testing.T, path string) string {
	t.Helper()
	info, err := os.Lstat(path)
	must(t, err)
	if runtime.GOOS == "windows" || info.Mode().Type() != fs.ModeSymlink {
		data, _ := os.ReadFile(path) // a folder
		return fmt.Sprint(info.Mode(), string(data))
	}
	leads, err := os.Readlink(path)
	must(t, err)
	return leads
}
