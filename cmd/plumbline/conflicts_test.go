package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// newFounded is a laptop whose person has founded a staff, alone.
func newFounded(t *testing.T) *notebook {
	t.Helper()
	mara := newNotebook(t, "mara", "Mara Quill")
	mara.do("init", "--staff", "Harrow County", "--person", "Mara Quill", "--root-file", filepath.Join(t.TempDir(), "root"))
	return mara
}

// writeTable writes a table into a folder of its own.
func writeTable(t *testing.T, content string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "class.csv")
	if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// Two long texts that differ at their end only are read whole, wherever one has
// to choose between them.
func TestLongTextsInConflictAreReadWhole(t *testing.T) {
	mara := newFounded(t)
	same := strings.Repeat("Sets his feet late against speed. ", 4)
	header := "name,school,class_year,note\nOrrin Vale,North Fork,2027,"
	mara.do("import", "prospect", writeTable(t, header+same+"\n"))
	seen := regexp.MustCompile(`--seen (\S+)`).FindStringSubmatch(mara.try("set", "Orrin Vale", "note=x").errs)
	mara.do("set", "Orrin Vale", "note="+same+"Knees are bent.", "--seen", seen[1])
	mara.do("import", "prospect", writeTable(t, header+same+"Waist is bent.\n"))

	for _, args := range [][]string{{"conflicts"}, {"show", "Orrin Vale"}, {"set", "Orrin Vale", "note=x"}} {
		r := mara.try(args...)
		said := strings.Join(strings.Fields(r.out+r.errs), " ")
		for _, end := range []string{"Knees are bent.", "Waist is bent."} {
			if !strings.Contains(said, same+end) {
				t.Errorf("%v: the text that ends in %q isn't there whole:\n%s%s", args, end, r.out, r.errs)
			}
		}
		if args[0] != "show" && (!strings.Contains(said, "note --choose ") || !strings.Contains(said, "note --merge")) {
			t.Errorf("%v names not both ways to settle a text:\n%s%s", args, r.out, r.errs)
		}
	}
}

// One row of a table makes a prospect and a measurement for each number.
func TestAnImportSaysWhatKindsItAdded(t *testing.T) {
	table := writeTable(t, "name,school,class_year,height,weight,source\nOrrin Vale,North Fork,2027,6046,301,listed\nPim Rask,Low Ridge,2027,6020,,listed\n")
	if out := newFounded(t).do("import", "prospect", table); !strings.Contains(out, "2 rows, 5 added (3 measurements, 2 prospects)") {
		t.Errorf("it says %q", out)
	}
}
