package main

import (
	"cmp"
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// Passing names are short, whatever the file is to be called: a name may have as many
// bytes as a file system takes.
const (
	partPrefix = ".plumbline-"
	partRandom = 8 // letters and digits
	partSuffix = ".part"
	staleAfter = 24 * time.Hour
)

// writeNew writes a file that doesn't exist yet, whole or not at all.
func writeNew(name string, data []byte, mode os.FileMode) error {
	if _, err := os.Lstat(name); !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("writing a new file: %w", cmp.Or(err, nameTaken(name)))
	}
	// Under a passing name of its own: somebody else may be writing a file of the
	// same name into the same folder.
	folder := filepath.Dir(name)
	removeStale(folder)
	part := filepath.Join(folder, partPrefix+rand.Text()[:partRandom]+partSuffix)
	err := writePart(part, data, mode)
	if err == nil {
		err = putInPlace(part, name)
	}
	_ = os.Remove(part) // it has its name, or failed: nothing of it stays
	var pathed *fs.PathError
	var linked *os.LinkError
	switch {
	case err == nil:
		return nil
	case errors.Is(err, fs.ErrNotExist):
		err = fmt.Errorf("there is no folder %s", folder)
	case errors.As(err, &pathed):
		pathed.Path = name // the passing one would only puzzle
	case errors.As(err, &linked):
		err = &fs.PathError{Op: linked.Op, Path: name, Err: linked.Err}
	}
	return fmt.Errorf("writing a new file: %w", err)
}

// removeStale removes what was left under passing names by those who were killed:
// nobody writes a file for a day. What it can't remove stays.
func removeStale(folder string) {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return // whoever writes there is told
	}
	for _, e := range entries {
		random, ok := strings.CutPrefix(e.Name(), partPrefix)
		random, ended := strings.CutSuffix(random, partSuffix)
		if !ok || !ended || len(random) != partRandom || !e.Type().IsRegular() {
			continue
		}
		if info, err := e.Info(); err == nil && time.Since(info.ModTime()) > staleAfter {
			_ = os.Remove(filepath.Join(folder, e.Name()))
		}
	}
}

func writePart(part string, data []byte, mode os.FileMode) error {
	file, err := os.OpenFile(part, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
	if err != nil {
		return err
	}
	if _, err = file.Write(data); err == nil {
		err = file.Sync()
	}
	return cmp.Or(err, file.Close())
}

// putInPlace gives a file its name, which may have been taken meanwhile: Link, unlike
// Rename, never overwrites. Where a file system has no links, the name is taken first
// with an empty file, and only that is overwritten.
func putInPlace(part, name string) error {
	err := os.Link(part, name)
	switch {
	case err == nil:
		return nil
	case errors.Is(err, fs.ErrExist):
		return nameTaken(name)
	}
	return renameIntoFree(part, name)
}

func renameIntoFree(part, name string) error {
	taken, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	if err = taken.Close(); err == nil {
		err = os.Rename(part, name)
	}
	if err != nil {
		_ = os.Remove(name) // the empty file
	}
	return err
}

func nameTaken(name string) error { return &fs.PathError{Op: "open", Path: name, Err: fs.ErrExist} }
