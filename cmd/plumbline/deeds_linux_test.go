package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"plumbline/storage/storagetest"
)

// deed is something that a director does on a laptop whose folders are on a bad
// disk.
type deed struct {
	name  string
	reads bool // no entry is written by it
	// entries is how many it writes on a disk that is well: all of them or none.
	entries int
	do      func(d *desktop) result
}

// desktop is what stands before whoever does a deed.
type desktop struct {
	disk       *spoiled
	who        *notebook
	evaluation string
	table      string
}

func command(name string, args ...string) deed {
	return deed{name: name, do: func(d *desktop) result { return d.who.try(args...) }}
}

func reading(args ...string) deed {
	d := command(strings.Join(args, " "), args...)
	d.reads = true
	return d
}

var deeds = []deed{
	reading("status"), reading("list"), reading("list", "note"), reading("show", "Orrin Vale", "--history"), reading("verify"),
	reading("roster"), reading("conflicts"), reading("doubles"), reading("aside"), reading("fields", "prospect"), reading("export"),
	reading("retire", "Lem Dorn", "--dry-run"), reading("conflicts", "Orrin Vale"),
	command("add", "add", "note", "prospect=Orrin Vale", "text=On a bad disk."),
	command("add a long text", "add", "note", "prospect=Orrin Vale", "text="+strings.Repeat("Late hands. ", 2000)),
	command("set", "set", "Orrin Vale", "jersey=71"),
	command("settle", "settle", "Orrin Vale", "hometown", "--value", "Salt Lick"),
	command("same", "same", "Abel Rook", "Abel Rock"),
	command("apart", "same", "Abel Rook", "Abel Rock", "--apart"),
	command("retire", "retire", "Lem Dorn"),
	command("keep", "keep", "Wes Tarn"),
	command("accept", "accept", "Ira Quist"),
	command("promote", "promote", "Tobin Ash"),
	command("revoke", "revoke", "Tobin Ash", "--yes"),
	command("demote", "revoke", "Tobin Ash", "--demote", "--yes"),
	{name: "file", do: func(d *desktop) result { return d.who.try("file", d.evaluation) }},
	{name: "import", do: func(d *desktop) result { return d.who.try("import", "prospect", d.table, "--source", "North list") }},
	{name: "backup", reads: true, do: func(d *desktop) result { return d.who.try("backup", filepath.Join(d.disk.folder, "copy")) }},
	{name: "export to a file", reads: true, do: func(d *desktop) result {
		return d.who.try("export", "prospect", "--output", filepath.Join(d.disk.folder, "list.xlsx"))
	}},
	{name: "invite", do: func(d *desktop) result {
		asked, _ := tryPairing(d.who, []string{"Nell Varr"}, newNotebook(d.disk.t, "nell", "Nell Varr"), "join")
		return asked
	}},
}

// member gives a folder with the ledger of a director who has something to do
// of every kind: values in conflict, a retirement in dispute, work set aside, an
// evaluation, prospects with close names.
func member(t *testing.T) (mara *notebook, evaluation string) {
	t.Helper()
	mara, tobin, ira := newStaff(t)
	mara.do("import", "prospect", filepath.Join("testdata", "job", "class.csv"), "--source", "South list")
	mara.do("add", "prospect", "name=Abel Rock", "position=edge", "school=Low Ridge", "class_year=2027")
	evaluation = strings.Fields(mara.do("add", "evaluation", "prospect=Orrin Vale", "overall=6"))[0]
	for _, n := range []*notebook{mara, tobin, ira} {
		n.start()
	}
	linkUp(t, tobin, mara)
	linkUp(t, ira, mara)
	alike(t, mara, tobin, ira)
	tobin.stop()
	ira.stop()
	tobin.do("set", "Orrin Vale", "hometown=Salt Lick")
	tobin.do("add", "note", "prospect=Wes Tarn", "text=Look again.")
	mara.do("set", "Orrin Vale", "hometown=Stone Ferry")
	mara.do("retire", "Wes Tarn")
	mara.do("revoke", "Ira Quist", "--yes")
	mara.stop()
	tobin.start()
	ira.start()
	linkUp(t, ira, tobin)
	ira.do("add", "prospect", "name=Gus Orn")
	alike(t, tobin, ira)
	ira.stop()
	mara.start()
	linkUp(t, tobin, mara)
	alike(t, mara, tobin)
	tobin.stop()
	mara.stop()
	return mara, evaluation
}

// tryPairing does what pairUp does, with commands that may fail, and gives how
// both have ended. The words are those of the joining side before the address.
func tryPairing(inviter *notebook, invite []string, joiner *notebook, join string, more ...string) (asked, joined result) {
	in := inviter.screen(append([]string{"invite"}, invite...)...)
	address, _ := in.find("address")
	word, invited := in.find("word")
	if !invited {
		return in.end(), result{code: -1}
	}
	to := joiner.screen(append([]string{join, address, word, "--device", joiner.name}, more...)...)
	// Who joins has seen the other one when it shows its code, or it has ended.
	theirs, met := to.find("code")
	if met {
		ours, _ := in.find("code")
		_, _ = fmt.Fprintln(in.in, theirs) // either may have ended
		_, _ = fmt.Fprintln(to.in, ours)
	}
	// Where one ends, the other one does too, with its own reasons, or waits for
	// somebody else, who won't come.
	ending := func(one, other *desk) <-chan result {
		ended := make(chan result, 1)
		go func() {
			r := one.end()
			if r.code != exitDone {
				time.AfterFunc(5*time.Second, func() { _ = other.cmd.Process.Signal(os.Interrupt) })
			}
			ended <- r
		}()
		return ended
	}
	asks, joins := ending(in, to), ending(to, in)
	return <-asks, <-joins
}

// deedCase is one line of the table.
type deedCase struct {
	deed
	how     badDisk
	running bool
}

func (c deedCase) String() string {
	way := "stopped"
	if c.running {
		way = "running"
	}
	return fmt.Sprintf("%s, %s, %s", c.name, way, c.how.name)
}

// TestEveryDeedOnABadDisk does everything that one can do to a ledger, while the
// disk goes bad under it. A deed is done whole or not at all, and what is said of
// it is for people. When the disk is well again it is done without anybody doing
// more; everything is sound, and nothing that was acknowledged is lost.
func TestEveryDeedOnABadDisk(t *testing.T) {
	random := storagetest.Seeded(t)
	mara, evaluation := member(t)
	content := filepath.Dir(mara.data)
	var cases []deedCase
	for _, how := range badDisks {
		for _, d := range deeds {
			cases = append(cases, deedCase{d, how, true}, deedCase{d, how, false})
		}
	}
	random.Shuffle(len(cases), func(i, j int) { cases[i], cases[j] = cases[j], cases[i] })
	table := manyRows(t)
	for _, c := range cases[:min(len(cases), diskCases(t))] {
		t.Run(c.String(), func(t *testing.T) {
			disk, mounted := newDisk(t, random, c.how, content)
			if !mounted {
				t.Log("no disk can be mounted here: files that may not grow stand for it")
				noRoomInFiles(t)
				return
			}
			who := newNotebook(t, "mara", mara.person)
			who.data, who.state = filepath.Join(disk.folder, "data"), filepath.Join(disk.folder, "state")
			c.entries = c.onAGoodDisk(t, content, desktop{evaluation: evaluation, table: table})
			c.check(t, &desktop{disk, who, evaluation, table})
		})
	}
}

// onAGoodDisk does the deed for comparison, and tells how many entries it writes.
func (d deed) onAGoodDisk(t *testing.T, content string, desk desktop) int {
	t.Helper()
	desk.disk = &spoiled{t: t, folder: t.TempDir()}
	must(t, os.CopyFS(desk.disk.folder, os.DirFS(content)))
	desk.who = newNotebook(t, "mara", "Mara Quill")
	desk.who.data, desk.who.state = filepath.Join(desk.disk.folder, "data"), filepath.Join(desk.disk.folder, "state")
	before := desk.who.status()
	if r := d.do(&desk); r.code != exitDone {
		t.Fatalf("on a good disk: exit code %d: %s", r.code, r.errs)
	}
	return desk.who.status().Entries - before.Entries
}

func (c deedCase) check(t *testing.T, d *desktop) {
	before := d.who.status()
	if c.running {
		d.who.start()
	}
	d.disk.spoil()
	r := c.do(d)
	<-d.disk.bad
	done := r.code == exitDone
	harmless(t, "the deed", r)
	if !done && !strings.Contains(r.errs, "disk") {
		t.Errorf("exit code %d, and nothing is said of the disk: %s", r.code, r.errs)
	}
	if c.running {
		c.holds(t, d, before, done, "on the bad disk")
	} else {
		harmless(t, "status on the bad disk", d.who.try("status"))
	}
	if c.how.file {
		d.who.kill()
	}
	d.disk.mend()
	if c.how.file && c.running {
		d.who.start()
	}
	if !done && strings.Contains(r.errs, "doesn't confirm") {
		done = d.entries() != before.Entries // as it was told: who looks finds it
	}
	c.holds(t, d, before, done, "on the disk that was mended")
	if !done || c.reads {
		if again := c.do(d); again.code != exitDone && !(done && strings.Contains(again.errs, "exists")) {
			t.Errorf("on the disk that was mended: exit code %d: %s", again.code, again.errs)
		}
	}
	c.holds(t, d, before, true, "done at last")
	d.who.lasting(t)
}

func (d *desktop) entries() int {
	var now standing
	d.who.readBeside(&now, "status")
	return now.Entries
}

// holds wants the ledger as it was, or with the whole deed.
func (c deedCase) holds(t *testing.T, d *desktop, before standing, done bool, when string) {
	t.Helper()
	var now standing
	d.who.readBeside(&now, "status")
	want := before.Entries
	if done && !c.reads {
		want += c.entries
	}
	if now.Entries != want || want == before.Entries && now.StateHash != before.StateHash {
		t.Errorf("%s: %+v, before %+v and %d entries to come, done: %v", when, now, before, c.entries, done)
	}
}

// lasting verifies, and once more after a kill, which takes nothing away.
func (n *notebook) lasting(t *testing.T) {
	t.Helper()
	var now, then standing
	n.soundly(t)
	n.readBeside(&now, "status")
	n.kill()
	n.soundly(t)
	n.readBeside(&then, "status")
	if then.Entries != now.Entries || then.StateHash != now.StateHash {
		t.Errorf("killed: %+v, before %+v", then, now)
	}
}
