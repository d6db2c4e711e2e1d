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

// arrival is a way in which a laptop begins to hold a staff's records.
type arrival struct {
	name    string
	alone   bool // its person has written alone before
	stopped bool // no node may run meanwhile
	do      func(d *doorstep) result
}

// doorstep is where a laptop on a bad disk comes in, and who is there already.
type doorstep struct {
	who         *notebook
	mara, tobin *notebook // on a disk that is well: a director and a scout
	root        string    // the file with the staff's root
	backup      string
	attempts    int
}

var arrivals = []arrival{
	{name: "found", do: func(d *doorstep) result {
		d.attempts++
		return d.who.try("init", "--staff", "Harrow County", "--person", d.who.person, "--root-file", fmt.Sprint(d.root, "-", d.who.name, d.attempts))
	}},
	{name: "restore", stopped: true, do: func(d *doorstep) result { return d.who.try("restore", d.backup) }},
	{name: "join", do: func(d *doorstep) result { return d.join() }},
	{name: "join with what was written alone", alone: true, do: func(d *doorstep) result { return d.join() }},
	{name: "recover", do: func(d *doorstep) result {
		_, joined := tryPairing(d.tobin, []string{"--recovery"}, d.who, "recover", "--root-file", d.root)
		return joined
	}},
}

func (d *doorstep) join() result {
	_, joined := tryPairing(d.mara, []string{d.who.person, "--title", "area_scout"}, d.who, "join")
	return joined
}

// TestEveryArrivalOnABadDisk founds, restores, joins and recovers on a laptop
// whose disk goes bad meanwhile. It is there with everything or as it was
// before, which is said in words for people; and it can come in once the disk is
// well again, without anybody clearing up.
func TestEveryArrivalOnABadDisk(t *testing.T) {
	random := storagetest.Seeded(t)
	dir := t.TempDir()
	mara, tobin := newNotebook(t, "mara", "Mara Quill"), newNotebook(t, "tobin", "Tobin Ash")
	root, backup := filepath.Join(dir, "root"), filepath.Join(dir, "copy")
	mara.do("init", "--staff", "Harrow County", "--person", mara.person, "--root-file", root)
	mara.do("add", "game", "date=2026-09-05", "home=Low Ridge", "away=North Fork")
	pairUp(t, mara, tobin)
	mara.do("backup", backup)
	empty, alone := t.TempDir(), newNotebook(t, "alone", "Nell Varr")
	alone.do("init", "--staff", "My own", "--person", alone.person, "--root-file", filepath.Join(dir, "own"))
	alone.do("import", "prospect", manyRows(t), "--source", "Own list")
	type line struct {
		arrival
		how     badDisk
		running bool
	}
	var lines []line
	for _, how := range badDisks {
		for _, a := range arrivals {
			lines = append(lines, line{a, how, false})
			if !a.stopped {
				lines = append(lines, line{a, how, true})
			}
		}
	}
	random.Shuffle(len(lines), func(i, j int) { lines[i], lines[j] = lines[j], lines[i] })
	for i, l := range lines[:min(len(lines), diskCases(t)/2)] {
		t.Run(fmt.Sprintf("%s, running: %v, %s", l.name, l.running, l.how.name), func(t *testing.T) {
			content := empty
			if l.alone {
				content = filepath.Dir(alone.data)
			}
			disk, mounted := newDisk(t, random, l.how, content)
			if !mounted {
				t.Log("no disk can be mounted here: files that may not grow stand for it")
				noRoomInFiles(t)
				return
			}
			who := newNotebook(t, fmt.Sprint("newcomer-", i), fmt.Sprint("Nell Varr ", i))
			who.data, who.state = filepath.Join(disk.folder, "data"), filepath.Join(disk.folder, "state")
			scout := newNotebook(t, "tobin", tobin.person)
			must(t, os.CopyFS(filepath.Dir(scout.data), os.DirFS(filepath.Dir(tobin.data))))
			d := &doorstep{who: who, mara: mara, tobin: scout, root: root, backup: backup}
			arrive(t, l.arrival, d, disk, l.running)
		})
	}
	mara.do("verify")
}

func arrive(t *testing.T, a arrival, d *doorstep, disk *spoiled, running bool) {
	before := ""
	if a.alone {
		before = d.who.written()
	}
	if running {
		d.who.start()
	}
	disk.soon = 1500 * time.Millisecond
	disk.spoil()
	r := a.do(d)
	<-disk.bad
	harmless(t, "arriving", r)
	harmless(t, "status on the bad disk", d.who.try("status"))
	if disk.file {
		d.who.kill()
	}
	disk.mend()
	if disk.file && running {
		d.who.start()
	}
	if staff := d.who.staffName(); staff != "Harrow County" {
		if r.code == exitDone {
			t.Errorf("it came in, and belongs to %q", staff)
		}
		if r.code != exitDone && !strings.Contains(r.errs, "disk") {
			t.Errorf("exit code %d, and nothing is said of the disk: %s", r.code, r.errs)
		}
		if a.alone {
			if now := d.who.written(); now != before {
				t.Errorf("still alone, it shows\n%.2000s\nand before\n%.2000s", now, before)
			}
		}
		if again := a.do(d); again.code != exitDone {
			t.Errorf("on the disk that was mended: exit code %d: %s", again.code, again.errs)
		}
	} else if r.code != exitDone {
		t.Logf("it had come in all the same: %s", r.errs)
	}
	d.who.soundly(t)
	if staff := d.who.staffName(); staff != "Harrow County" {
		t.Errorf("at last it belongs to %q", staff)
	}
	if a.alone {
		if now := d.who.written(); now != before {
			t.Errorf("with the staff, it shows\n%.2000s\nand before\n%.2000s", now, before)
		}
	}
	d.who.lasting(t)
}
