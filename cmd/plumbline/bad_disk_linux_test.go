package main

import (
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
	"time"
)

// badDisk is a way in which a disk goes bad under a laptop.
type badDisk struct {
	name string
	// file says that the disk is a file system in a file, which goes bad as ext4
	// does when its device refuses a write: from then on it may only be read. It is
	// well again once it is mounted anew, so whoever has files open there starts
	// anew. The others are in memory, become full, and have space again.
	file bool
	// meanwhile says that it happens while the next command is under way.
	meanwhile bool
	// left is how many pages of 4 KiB a full one still has.
	left func(random *rand.Rand) int
}

var badDisks = []badDisk{
	{name: "full", left: func(*rand.Rand) int { return 0 }},
	// Few pages meet the first writes of a command, many the last ones.
	{name: "soon full", left: func(random *rand.Rand) int { return random.IntN(1 << (1 + random.IntN(9))) }},
	{name: "full meanwhile", left: func(*rand.Rand) int { return 0 }, meanwhile: true},
	{name: "read-only", file: true},
	{name: "read-only meanwhile", file: true, meanwhile: true},
}

// diskSize is what such a disk holds, in bytes: a ledger, the zeros that a node
// writes ahead of its commits, and an import.
const diskSize = 24 << 20

// spoiled is one such disk, with folders on it.
type spoiled struct {
	badDisk
	t      *testing.T
	random *rand.Rand
	folder string
	image  string        // the file, if it is in one
	soon   time.Duration // within which it goes bad meanwhile
	bad    chan struct{} // closed once it is bad
}

// newDisk mounts a disk with what lies in a folder. Where none can be mounted it
// returns false.
func newDisk(t *testing.T, random *rand.Rand, how badDisk, content string) (*spoiled, bool) {
	t.Helper()
	d := &spoiled{badDisk: how, t: t, random: random, folder: t.TempDir(), soon: 150 * time.Millisecond}
	what := []string{"-t", "tmpfs", "-o", "size=" + strconv.Itoa(diskSize), "tmpfs"}
	if how.file {
		d.image = filepath.Join(t.TempDir(), "image")
		must(t, os.WriteFile(d.image, nil, 0o600))
		must(t, os.Truncate(d.image, diskSize))
		if out, err := exec.Command("mkfs.ext4", "-q", "-F", d.image).CombinedOutput(); err != nil {
			t.Logf("mkfs.ext4: %v: %s", err, out)
			return nil, false
		}
		what = []string{"-o", "loop", d.image}
	}
	if !mountDisk(t, d.folder, what...) {
		return nil, false
	}
	must(t, os.CopyFS(d.folder, os.DirFS(content)))
	mount(t, "sync", "-f", d.folder)
	return d, true
}

// spoil makes the disk bad, or lets that happen soon.
func (d *spoiled) spoil() {
	d.bad = make(chan struct{})
	if !d.meanwhile {
		d.turn()
		return
	}
	after := time.Duration(d.random.Int64N(int64(d.soon)))
	go func() {
		<-time.After(after)
		d.turn()
	}()
}

func (d *spoiled) turn() {
	defer close(d.bad)
	if d.file {
		mount(d.t, "mount", "-o", "remount,abort", d.folder)
		return
	}
	fill(d.t, d.ballast(), 1<<30)
	info, err := os.Stat(d.ballast())
	if err == nil {
		err = os.Truncate(d.ballast(), max(0, info.Size()-int64(d.left(d.random))<<12))
	}
	if err != nil {
		d.t.Error(err)
	}
}

func (d *spoiled) ballast() string { return filepath.Join(d.folder, "ballast") }

// mend makes the disk well again. Nobody may have files open on one in a file.
func (d *spoiled) mend() {
	d.t.Helper()
	if !d.file {
		must(d.t, os.Remove(d.ballast()))
		return
	}
	mount(d.t, "umount", d.folder)
	mount(d.t, "mount", "-o", "loop", d.image, d.folder)
}

// mount runs mount, or one of its kind.
func mount(t *testing.T, name string, args ...string) {
	t.Helper()
	if out, err := exec.Command(name, args...).CombinedOutput(); err != nil {
		t.Errorf("%s %v: %v: %s", name, args, err, out) // not Fatal: it may run beside the test
	}
}
