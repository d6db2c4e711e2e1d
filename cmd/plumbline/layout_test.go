package main_test

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// topLevel is what the project's folder may hold, so that a stranger can name the architecture from a listing of it.
// Names that begin with a dot are the tools' own business.
var topLevel = []string{
	"DEVELOPERS.md", "LICENSE", "README.md",
	"buf.gen.yaml", "buf.yaml", "go.mod", "go.sum", "package-lock.json", "package.json",
	"cmd", "node", "proto", "storage", "sync", "testdata",
}

// leftovers are what builds leave behind; git ignores the same.
var leftovers = []string{"node_modules", "plumbline", "plumbline.exe", "*.test", "*.out", "*.prof"}

func TestTopLevelIsKnown(t *testing.T) {
	entries, err := os.ReadDir("../..")
	if err != nil {
		t.Fatal(err)
	}
	for _, entry := range entries {
		if !isKnown(entry.Name()) {
			t.Errorf("%s stands at the top level, which shows only the parts of the architecture: move it into the part it "+
				"belongs to, or add it to topLevel here and to the project's listing of folders", entry.Name())
		}
	}
}

func TestUnknownNamesAreFound(t *testing.T) {
	for name, known := range map[string]bool{
		"node": true, "go.sum": true, ".git": true, "plumbline": true, "cpu.prof": true,
		"pkg": false, "internal": false, "main.go": false, "Node": false,
	} {
		if isKnown(name) != known {
			t.Errorf("isKnown(%q) = %v", name, !known)
		}
	}
}

func isKnown(name string) bool {
	if strings.HasPrefix(name, ".") || slices.Contains(topLevel, name) {
		return true
	}
	return slices.ContainsFunc(leftovers, func(pattern string) bool {
		matched, err := filepath.Match(pattern, name)
		return err == nil && matched
	})
}
