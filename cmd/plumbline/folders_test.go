package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestTwoDataFoldersNeverShareKeys(t *testing.T) {
	dir, err := filepath.EvalSymlinks(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	_, first, err := folders(filepath.Join(dir, "a", "plumb"), "")
	if err != nil {
		t.Fatal(err)
	}
	_, second, err := folders(filepath.Join(dir, "b", "plumb"), "")
	if err != nil {
		t.Fatal(err)
	}
	_, usual, err := folders("", "")
	if err != nil {
		t.Fatal(err)
	}
	if first == second || first == usual || filepath.Dir(first) != usual {
		t.Errorf("the state folders are %s, %s and usually %s", first, second, usual)
	}
	if strings.HasPrefix(first, dir) {
		t.Errorf("the keys lie beside the records, in %s", first)
	}
}

// One folder has one name, by whatever path it is reached: a client finds the
// node of a folder by it.
func TestOneNameForAFolder(t *testing.T) {
	dir := t.TempDir()
	data, link := filepath.Join(dir, "data"), filepath.Join(dir, "link")
	if err := os.Mkdir(data, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(data, link); err != nil {
		t.Fatal(err)
	}
	straight, stateStraight, err := folders(data, "")
	if err != nil {
		t.Fatal(err)
	}
	linked, stateLinked, err := folders(link, "")
	if err != nil || linked != straight || stateLinked != stateStraight {
		t.Errorf("by the link %s with %s, %v, else %s with %s", linked, stateLinked, err, straight, stateStraight)
	}
	if _, _, err := folders(link, data); err == nil {
		t.Error("one folder was taken for both")
	}
}
