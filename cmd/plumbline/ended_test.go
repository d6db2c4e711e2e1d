package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// Whoever waits for a node that is killed is told so, and what may have become of it: a
// table is there whole or not at all, and importing it again doubles nothing.
func TestWhoeverWaitsForANodeThatEndsIsToldSo(t *testing.T) {
	const rows = 8000
	mara := newNotebook(t, "mara", "Mara Quill")
	mara.do("init", "--staff", "Harrow County", "--person", mara.person, "--root-file", filepath.Join(t.TempDir(), "root"))
	told := false
	for try := 0; try < 12 && !told; try++ {
		source := fmt.Sprintf("list %d", try)
		table := filepath.Join(t.TempDir(), "class.csv")
		var b strings.Builder
		b.WriteString("name,school,class_year\n")
		for i := range rows {
			fmt.Fprintf(&b, "Orrin %d of %d,Salt Lick,2031\n", i, try)
		}
		must(t, os.WriteFile(table, []byte(b.String()), 0o600))
		mara.start()
		ended := make(chan result, 1)
		go func() { ended <- mara.try("import", "prospect", table, "--source", source) }()
		time.Sleep(time.Duration(60*(try+1)) * time.Millisecond) // when is by chance: it is tried until it was in between
		mara.kill()
		r := <-ended
		if r.code != exitDone {
			told = strings.Contains(r.errs, "the node ended before it answered") && strings.Contains(r.errs, "doubles nothing")
			if r.code != exitUnreachable || !told && !strings.Contains(r.errs, "the node ended before it was asked") {
				t.Fatalf("whoever waits for a node that is killed is told, with exit code %d: %s", r.code, r.errs)
			}
		}
		found := func() int {
			return strings.Count(mara.texts("list", "--search", fmt.Sprintf("of %d", try), "--columns", "name", "--where", fmt.Sprintf("name.endsWith(%q)", fmt.Sprintf(" of %d", try))), "Orrin")
		}
		if got := found(); got != 0 && got != rows {
			t.Fatalf("%d rows of a table of %d are there", got, rows)
		}
		mara.do("import", "prospect", table, "--source", source)
		if got := found(); got != rows {
			t.Fatalf("%d rows are there once a table of %d was imported again", got, rows)
		}
	}
	if !told {
		t.Error("the node was never killed while somebody waited for it")
	}
}
