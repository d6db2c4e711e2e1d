package main

import (
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"plumbline/storage/storagetest"
)

// TestKilledWhileFounding kills the command that founds a staff at random moments.
// The laptop has its staff then, or founds one with the next command.
func TestKilledWhileFounding(t *testing.T) {
	random := storagetest.Seeded(t)
	founded := 0
	for i := range kills(t, 2) {
		mara := newNotebook(t, "mara", "Mara Quill")
		init := func(root string) []string {
			return []string{"init", "--staff", "Harrow County", "--person", mara.person, "--root-file", filepath.Join(t.TempDir(), root)}
		}
		ended := make(chan result)
		go func() { ended <- mara.killable("", init("killed")...) }()
		<-time.After(2 * moment(random))
		mara.killCommand()
		<-ended
		if staff := mara.staffName(); staff == "Harrow County" {
			founded++
		} else {
			mara.do(init(fmt.Sprint("again-", i))...)
		}
		mara.do("add", "prospect", "name=Orrin Vale")
		mara.do("verify")
		onlyFiles(t, mara.data, "plumbline.db*", "lock")
	}
	t.Logf("%d foundings were finished when they were killed", founded)
}
