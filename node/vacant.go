package node

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
)

// Vacant refuses where there is nothing that a laptop keeps, neither a database nor
// keys: whoever only asks leaves nothing there, not even in a folder that was named
// by a slip. It is nil where something is, or where that can't be seen.
func Vacant(data, state string) error {
	kept := []string{filepath.Join(state, identityFile)}
	for _, end := range beside {
		kept = append(kept, filepath.Join(data, databaseFile)+end)
	}
	for _, path := range kept {
		if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
			return nil
		}
	}
	return noStaff(data)
}
