package node

import (
	"fmt"
	"os"
	"path/filepath"
)

// What is written under a passing name, until it is whole.
const (
	passingRestore = ".restore-*"
	passingSecret  = ".new-*"
)

// sweep removes what was left under passing names by a process that was killed.
func sweep(folder, passing string) error {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return fmt.Errorf("look for what was left half written: %w", err)
	}
	for _, e := range entries {
		if fits, err := filepath.Match(passing, e.Name()); err != nil || !fits {
			continue
		}
		if err := os.Remove(filepath.Join(folder, e.Name())); err != nil {
			return fmt.Errorf("remove what was left half written: %w", err)
		}
	}
	return nil
}
