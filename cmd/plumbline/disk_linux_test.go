package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// Every command and a node, on a disk that is full and on one that may only be
// read, data and secrets alike. Each does what it is for or says what is wrong;
// nothing that was saved is lost, and work goes on once the disk takes it.
func TestEverythingOnABadDisk(t *testing.T) {
	disk := t.TempDir()
	if !mountSmall(t, disk) {
		t.Log("no disk can be mounted here: files that may not grow stand for it")
		noRoomInFiles(t)
		return
	}
	mara := newNotebook(t, "mara", "Mara Quill")
	mara.data, mara.state = filepath.Join(disk, "data"), filepath.Join(disk, "state")
	mara.do("init", "--staff", "Harrow County", "--person", "Mara Quill", "--root-file", filepath.Join(t.TempDir(), "root"))
	mara.do("add", "prospect", "name=Orrin Vale")
	backup := filepath.Join(t.TempDir(), "copy")
	mara.do("backup", backup)
	ballast := filepath.Join(disk, "ballast")
	for _, bad := range []struct {
		name        string
		break_, end func()
	}{
		{"full", func() { fill(t, ballast, 1<<30) }, func() { must(t, os.Remove(ballast)) }},
		{"read-only", func() { remount(t, disk, "ro") }, func() { remount(t, disk, "rw") }},
	} {
		before := mara.status()
		bad.break_()
		newcomer := newNotebook(t, "ira", "Ira Quist")
		newcomer.data, newcomer.state = filepath.Join(disk, "other-data"), filepath.Join(disk, "other-state")
		for _, try := range []struct {
			who  *notebook
			args []string
		}{
			{mara, []string{"status"}}, {mara, []string{"list"}}, {mara, []string{"show", "Orrin Vale"}},
			{mara, []string{"add", "note", "prospect=Orrin Vale", "text=On a bad disk."}},
			{mara, []string{"import", "prospect", manyRows(t)}}, {mara, []string{"verify"}},
			{mara, []string{"backup", filepath.Join(disk, "another")}}, {mara, []string{"roster"}},
			{newcomer, []string{"init", "--staff", "Low Ridge", "--person", "Nell Varr", "--root-file", filepath.Join(t.TempDir(), "root")}},
			{newcomer, []string{"restore", backup}}, {newcomer, []string{"status"}},
		} {
			r := try.who.try(try.args...)
			harmless(t, fmt.Sprint(bad.name, ": ", try.args[0]), r)
			if r.code != exitDone && !strings.Contains(r.errs, "disk") {
				t.Errorf("%s: %v says nothing of the disk: %s", bad.name, try.args, r.errs)
			}
		}
		harmless(t, bad.name+": run", mara.runBriefly())
		bad.end()
		must(t, os.RemoveAll(newcomer.data))
		must(t, os.RemoveAll(newcomer.state))
		mara.do("verify")
		if after := mara.status(); after.Entries < before.Entries {
			t.Errorf("%s: %+v, before %+v", bad.name, after, before)
		}
		mara.do("add", "note", "prospect=Orrin Vale", "text=Once it was mended.")
	}
}

// TestSyncOntoAFullDisk lets a laptop's disk fill up while it catches up. It
// goes on once there is space, without anybody doing more.
func TestSyncOntoAFullDisk(t *testing.T) {
	disk := t.TempDir()
	if !mountSmall(t, disk) {
		t.Log("no disk can be mounted here: files that may not grow stand for it")
		noRoomInFiles(t)
		return
	}
	mara, tobin, _ := newStaff(t)
	small := filepath.Join(disk, "data")
	must(t, os.CopyFS(small, os.DirFS(tobin.data)))
	tobin.data = small
	mara.start()
	tobin.start()
	linkUp(t, tobin, mara)
	alike(t, mara, tobin)
	ballast := filepath.Join(disk, "ballast")
	fill(t, ballast, 1<<30)
	mara.do("import", "prospect", manyRows(t), "--source", "North list")
	want := mara.status()
	<-time.After(5 * time.Second) // it tries, and tries again
	if s := tobin.status(); s.Entries >= want.Entries {
		t.Fatal("everything found room, so this test shows nothing")
	}
	harmless(t, "add on the full disk", tobin.try("import", "prospect", manyRows(t)))
	must(t, os.Remove(ballast))
	alike(t, mara, tobin)
	tobin.do("add", "prospect", "name=Orrin Vale")
	alike(t, mara, tobin)
	tobin.do("verify")
}

func remount(t *testing.T, disk, how string) {
	t.Helper()
	if out, err := exec.Command("mount", "-o", "remount,"+how, disk).CombinedOutput(); err != nil {
		t.Fatalf("remount: %v: %s", err, out)
	}
}
