package storage

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
)

// What lies where a backup is to be restored stays as it is, also beside a backup that
// is none.
func TestRestoreOverwritesNothing(t *testing.T) {
	w := newWorld(36)
	s := storeOf(t, w)
	s.append(t, all(w)...)
	folder := t.TempDir()
	backup, none, there := filepath.Join(folder, "backup.db"), filepath.Join(folder, "none.db"), filepath.Join(folder, "there.db")
	check(t, s.Backup(t.Context(), backup, nil))
	check(t, os.WriteFile(there, []byte("somebody's"), 0o600))
	for _, from := range []string{backup, none} {
		if _, err := Restore(t.Context(), from, there, Options{}, nil); !errors.Is(err, ErrExists) {
			t.Errorf("restored %s: %v", from, err)
		}
		if data, err := os.ReadFile(there); err != nil || string(data) != "somebody's" {
			t.Errorf("there is %q now, %v", data, err)
		}
	}
}
