package main

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"plumbline/storage/storagetest"
)

// questions are answered from what is worked out ahead: from summaries, packs and
// the search index.
var questions = [][]string{
	{"list"},
	{"list", "--where", `position == "guard" && (evaluations >= 1 || class_year > 2026)`},
	{"list", "--search", "row 17"},
	{"list", "evaluation"},
	{"list", "rep"},
	{"list", "note", "--search", "late hands"},
	{"show", "Row 17"},
	{"conflicts"},
}

// nearlyFull is a disk on which a node still starts, and that takes no summaries.
// When it is in a file it turns read-only besides.
func nearlyFull(name string, file bool) badDisk {
	return badDisk{name: name, file: file, left: func(*rand.Rand) int { return 24 }}
}

// TestQuestionsOnABadDisk asks when what answers are made of is still to be worked
// out, and the disk takes none of it. Each is answered as on a disk that is well, as
// often as it is asked, and what was worked out is stored once the disk takes it.
// Where the folder can't even be opened, that is said in words for people.
func TestQuestionsOnABadDisk(t *testing.T) {
	random := storagetest.Seeded(t)
	mara := newNotebook(t, "mara", "Mara Quill")
	mara.do("init", "--staff", "Harrow County", "--person", "Mara Quill", "--root-file", filepath.Join(t.TempDir(), "root"))
	mara.do("import", "prospect", filepath.Join("testdata", "job", "class.csv"), "--source", "North list")
	mara.do("import", "rep", filepath.Join("testdata", "job", "tobin-reps.csv"))
	mara.do("add", "evaluation", "prospect=Orrin Vale", "overall=6")
	mara.do("add", "note", "prospect=Orrin Vale", "text=Late hands.")
	mara.do("import", "prospect", manyRows(t)) // the last: a command that looks for a name indexes all of them
	content := filepath.Dir(mara.data)
	good := newNotebook(t, "mara", "Mara Quill")
	must(t, os.CopyFS(filepath.Dir(good.data), os.DirFS(content)))
	var want []string
	for _, q := range questions {
		want = append(want, good.do(append(q, "--json")...))
	}
	for _, c := range []struct {
		how     badDisk
		running bool
	}{
		{nearlyFull("full", false), false}, {nearlyFull("full", false), true}, {nearlyFull("read-only", true), true}, {nearlyFull("read-only", true), false},
	} {
		t.Run(deedCase{deed{name: "ask"}, c.how, c.running}.String(), func(t *testing.T) {
			disk, mounted := newDisk(t, random, c.how, content)
			if !mounted {
				t.Log("no disk can be mounted here: files that may not grow stand for it")
				noRoomInFiles(t)
				return
			}
			who := newNotebook(t, "mara", "Mara Quill")
			who.data, who.state = filepath.Join(disk.folder, "data"), filepath.Join(filepath.Dir(who.state), "state")
			must(t, os.CopyFS(who.state, os.DirFS(filepath.Join(content, "state"))))
			disk.nearlyFill()
			if c.running {
				who.start()
			}
			if c.how.file {
				disk.spoil()
			}
			opens := c.running || !c.how.file // else not even its lock can be taken
			for range 2 {
				for i, q := range questions {
					who.asks(t, append(q, "--json"), want[i], opens)
				}
				if opens {
					who.backsUp(t, filepath.Join(t.TempDir(), "copy"), want[0])
				}
				if r := who.try("verify"); r.code != exitRefused || !strings.Contains(r.errs, "disk") {
					t.Fatalf("everything was stored, so this test shows nothing: %s%s", r.out, r.errs)
				}
			}
			if c.how.file {
				who.kill()
				disk.mend()
			}
			must(t, os.RemoveAll(disk.ballast())) // one in a file may have lost it
			for i, q := range questions {
				who.asks(t, append(q, "--json"), want[i], true)
			}
			who.soundly(t)
		})
	}
}

// backsUp makes a backup on another disk, and wants all to be in it.
func (n *notebook) backsUp(t *testing.T, path, list string) {
	t.Helper()
	n.do("backup", path)
	ira := newNotebook(t, "ira", "Ira Quist")
	ira.do("restore", path)
	ira.asks(t, append(questions[0], "--json"), list, true)
	ira.soundly(t)
}

// nearlyFill leaves as much room as the disk's kind says.
func (d *spoiled) nearlyFill() {
	d.t.Helper()
	fill(d.t, d.ballast(), 1<<30)
	info, err := os.Stat(d.ballast())
	must(d.t, err)
	must(d.t, os.Truncate(d.ballast(), info.Size()-int64(d.left(d.random))<<12))
}

// asks wants this answer, or a refusal for people where the folder can't be opened.
func (n *notebook) asks(t *testing.T, question []string, want string, opens bool) {
	t.Helper()
	r := n.try(question...)
	switch {
	case !opens:
		harmless(t, strings.Join(question, " "), r)
		if r.code != exitRefused || !strings.Contains(r.errs, "disk") {
			t.Errorf("%v: exit code %d, and nothing is said of the disk: %s", question, r.code, r.errs)
		}
	case r.code != exitDone || r.out != want:
		t.Errorf("%v: exit code %d: %s\n%d bytes, want %d", question, r.code, r.errs, len(r.out), len(want))
	}
}
