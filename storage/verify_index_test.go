package storage

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The page of an empty table in the place of an empty index passes SQLite's own
// check, and fails whoever asks by the index. Opening reads record_retired itself.
func TestVerifyWalksThroughIndexes(t *testing.T) {
	dir := t.TempDir()
	s := openAt(t, filepath.Join(dir, "db"), Options{})
	path := filepath.Join(dir, "copy")
	check(t, s.Backup(t.Context(), path, nil))
	saved := openAt(t, path, Options{ReadOnly: true}).readers.bind(t.Context())
	root := func(name string) (page int) {
		t.Helper()
		_, err := saved.one("SELECT rootpage FROM sqlite_schema WHERE name = ?", []any{name}, &page)
		check(t, err)
		return page
	}
	const size = 4096
	for _, index := range []string{"entry_record", "entry_unapplied", "record_conflicts", "pack_unmade"} {
		t.Run(index, func(t *testing.T) {
			data, err := os.ReadFile(path)
			check(t, err)
			from, to := (root("entry")-1)*size, (root(index)-1)*size
			copy(data[to:to+size], data[from:from+size])
			hurt := filepath.Join(t.TempDir(), "hurt")
			check(t, os.WriteFile(hurt, data, 0o600))
			report, err := openAt(t, hurt, Options{ReadOnly: true}).Verify(t.Context(), nil)
			check(t, err)
			if len(report.Faults) == 0 || !strings.Contains(report.Faults[0], "damaged") {
				t.Errorf("got %v", report.Faults)
			}
		})
	}
}
