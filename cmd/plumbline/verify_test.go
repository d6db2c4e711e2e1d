package main

import (
	"encoding/csv"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// TestVerifyWithoutRoom lets no file grow beyond what the database has: then there
// is no room for the file that verify makes in passing. It says how much it needs and
// where, and doesn't let anybody believe that their records are lost.
func TestVerifyWithoutRoom(t *testing.T) {
	mara := newNotebook(t, "mara", "Mara Quill")
	mara.do("init", "--staff", "Harrow County", "--person", "Mara Quill", "--root-file", filepath.Join(t.TempDir(), "root"))
	mara.do("import", "prospect", manyWords(t))
	mara.do("list", "--search", "Row", "--limit", "1") // by the search index, which is there then
	info, err := os.Stat(filepath.Join(mara.data, "plumbline.db"))
	must(t, err)
	passing := t.TempDir()
	limited := append([]string{"-c", fmt.Sprintf("ulimit -f %d; exec plumbline \"$@\"", info.Size()/512+1), "sh"}, mara.args("verify")...)
	cmd := exec.CommandContext(t.Context(), "sh", limited...)
	cmd.Env = append(os.Environ(), "TMPDIR="+passing)
	refused{code: exitRefused, says: []string{"verify needs about", "MB", passing, "TMPDIR", "Nothing is known to be wrong"}}.check(t, finish(t, cmd), "")
	if left, err := os.ReadDir(passing); err != nil || len(left) > 0 {
		t.Errorf("it left %v, %v", left, err)
	}
	mara.do("verify")
}

// manyWords is a table whose words take more room in the search index than beside it.
func manyWords(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "words.csv")
	file, err := os.Create(path)
	must(t, err)
	defer file.Close()
	w := csv.NewWriter(file)
	random := rand.New(rand.NewPCG(1, 2))
	must(t, w.Write([]string{"name", "school", "class_year", "note"}))
	for i := range 420 {
		var note []byte
		for len(note) < 30_000 {
			for range 4 + random.IntN(4) {
				note = append(note, byte('a'+random.IntN(26)))
			}
			note = append(note, ' ')
		}
		must(t, w.Write([]string{fmt.Sprint("Row ", i), "Stone Ferry", "2027", string(note)}))
	}
	w.Flush()
	must(t, w.Error())
	return path
}
