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
	left, err := leftUnder(folder, passing)
	if err != nil {
		return err
	}
	for _, path := range left {
		if err := os.Remove(path); err != nil {
			return fmt.Errorf("remove what was left half written: %w", err)
		}
	}
	return nil
}

// leftUnder returns the files that have such names.
func leftUnder(folder, passing string) (paths []string, err error) {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return nil, fmt.Errorf("look for what was left half written: %w", err)
	}
	for _, e := range entries {
		if fits, err := filepath.Match(passing, e.Name()); err == nil && fits {
			paths = append(paths, filepath.Join(folder, e.Name()))
		}
	}
	return paths, nil
}
