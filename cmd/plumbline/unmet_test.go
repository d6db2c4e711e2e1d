package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A laptop that joined, or was restored, says that it has met no other one since
// then, until it has, and so on. Who is alone in their staff isn't told to meet anybody.
func TestALaptopSaysThatItHasMetNobody(t *testing.T) {
	says := func(n *notebook, what string) {
		t.Helper()
		out := n.do("status")
		if told := strings.Contains(out, "has met no other one since"); told != (what != "") || !strings.Contains(out, what) {
			t.Errorf("%s, want %q: status says\n%s", n.name, what, out)
		}
	}
	restore := func(n *notebook) {
		t.Helper()
		backup := filepath.Join(t.TempDir(), "copy")
		n.do("backup", backup)
		must(t, os.Rename(n.data, n.data+"-before"))
		n.do("restore", backup)
		must(t, os.RemoveAll(n.data+"-before"))
	}
	const joined, restored = "since it joined", "since the backup was restored"
	mara, tobin := newNotebook(t, "mara", "Mara Quill"), newNotebook(t, "tobin", "Tobin Ash")
	mara.do("init", "--staff", "Harrow County", "--person", mara.person, "--device", mara.name, "--root-file", filepath.Join(t.TempDir(), "root"))
	says(mara, "")
	restore(mara)
	says(mara, "")
	pairUp(t, mara, tobin)
	says(tobin, joined)
	says(tobin, "plumbline connect ADDRESS")
	tobin.start()
	says(tobin, joined)
	mara.start()
	linkUp(t, tobin, mara)
	says(mara, "")
	says(tobin, "")
	tobin.stop()
	says(tobin, "")
	mara.stop()
	says(mara, "")

	restore(tobin)
	says(tobin, restored)
	tobin.do("add", "prospect", "name=Orrin Vale")
	says(tobin, restored)
	mara.start()
	tobin.start()
	linkUp(t, tobin, mara)
	alike(t, mara, tobin)
	tobin.stop()
	says(tobin, "")

	// Nobody is left to be met.
	mara.do("revoke", "Tobin Ash", "--yes")
	mara.stop()
	restore(mara)
	says(mara, "")
}
