package main

import (
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"plumbline/storage/storagetest"
)

// TestKilledWhileTakingAlong kills the laptop that joins a staff with what its
// person wrote alone, the command or the node that does it, at random moments from
// the last code on, and once more at the next start. Then it is either still alone
// with everything, and joins once more, or a member with everything; and what it
// took along stands there once, under the same ids. Each third one is a restored copy,
// which has keys of no staff.
func TestKilledWhileTakingAlong(t *testing.T) {
	random := storagetest.Seeded(t)
	mara := newNotebook(t, "mara", "Mara Quill")
	mara.do("init", "--staff", "Harrow County", "--person", "Mara Quill", "--root-file", filepath.Join(t.TempDir(), "mara"))
	rows := manyRows(t)
	undecided, members := 0, 0
	times := kills(t, 4)
	for i := range times {
		tobin := newNotebook(t, "tobin", fmt.Sprint("Tobin Ash ", i+1))
		tobin.do("init", "--staff", "My own", "--person", tobin.person, "--root-file", filepath.Join(t.TempDir(), "root"))
		tobin.do("import", "prospect", rows, "--source", "North list")
		tobin.do("add", "evaluation", "prospect=Row 7", "overall=6")
		before := tobin.written()
		restored := i%3 == 2
		if restored {
			tobin = tobin.restoredElsewhere()
		}
		if i%2 == 0 {
			tobin.start()
		}
		tobin.cutShortWhileJoining(mara, time.Duration(random.IntN(1200))*time.Millisecond)
		tobin.launch() // the next start goes on, and is killed as well
		<-time.After(time.Duration(random.IntN(150)) * time.Millisecond)
		tobin.kill()

		if staff := tobin.staffName(); staff == "My own" {
			undecided++
			if now := tobin.written(); now != before {
				t.Fatalf("still alone, it shows\n%.2000s\nand before\n%.2000s", now, before)
			}
			onlyFiles(t, tobin.data, "plumbline.db*", "lock")
			if !restored {
				tobin.do("set", "Row 7", "jersey=71") // it goes on as if nothing had been
				before = tobin.written()
			}
			pairUp(t, mara, tobin)
		} else {
			members++
		}
		if staff := tobin.staffName(); staff != "Harrow County" {
			t.Fatalf("it belongs to %s", staff)
		}
		if now := tobin.written(); now != before {
			t.Fatalf("with the staff, it shows\n%.2000s\nand before\n%.2000s", now, before)
		}
		tobin.do("verify")
		onlyFiles(t, tobin.data, "plumbline.db*", "lock", "alone")
		old := newNotebook(t, "old", tobin.person)
		old.data = filepath.Join(tobin.data, "alone")
		if then := old.written(); then != before {
			t.Fatalf("the ledger from before shows\n%.2000s\nand showed\n%.2000s", then, before)
		}
		old.do("verify")
		if i == times-1 { // and it reaches the others, which then have more to show
			mara.start()
			tobin.start()
			linkUp(t, tobin, mara)
			alike(t, mara, tobin)
			tobin.stop()
			if got := mara.do("export", "evaluation"); got != tobin.do("export", "evaluation") {
				t.Errorf("mara has %s", got)
			}
		}
	}
	t.Logf("%d were alone still, %d were members", undecided, members)
}

// restoredElsewhere is another laptop of the person, with a backup of this one's.
func (n *notebook) restoredElsewhere() *notebook {
	n.t.Helper()
	file := filepath.Join(n.t.TempDir(), "backup.db")
	n.do("backup", file)
	other := newNotebook(n.t, n.name, n.person)
	other.do("restore", file)
	return other
}

// written is what there is of each kind of record, with its ids.
func (n *notebook) written() string {
	n.t.Helper()
	return n.do("export", "prospect") + n.do("export", "evaluation")
}

func (n *notebook) staffName() string {
	n.t.Helper()
	var s struct {
		Staff string `json:"staff_name"`
	}
	n.read(&s, "status")
	return s.Staff
}

// cutShortWhileJoining types both codes and, after some time, kills what joins.
func (n *notebook) cutShortWhileJoining(inviter *notebook, after time.Duration) {
	n.t.Helper()
	in := inviter.screen("invite", n.person, "--title", "area_scout")
	address, word := in.read("address"), in.read("word")
	join := n.screen("join", address, word, "--device", n.name)
	ours, theirs := in.read("code"), join.read("code")
	in.enter(theirs)
	join.enter(ours)
	<-time.After(after)
	n.kill() // the node, if there is one
	_ = join.cmd.Process.Kill()
	join.end()
	_ = in.cmd.Process.Kill() // it may wait for an answer that doesn't come
	in.end()
}
