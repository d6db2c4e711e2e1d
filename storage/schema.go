package storage

import (
	"embed"
	"fmt"
	"io/fs"
)

// The steps that lead from an empty file to the current tables, in order of
// their names. A step that was ever released is never edited; another is added.
//
//go:embed schema/*.sql
var schema embed.FS

// steps is where they are read. Tests of what comes after add one.
var steps fs.FS = schema

// migrate takes the missing steps, each in one transaction with its number, so
// that no crash leaves a step half taken or taken twice.
func (w *connection) migrate() error {
	names, err := fs.Glob(steps, "schema/*.sql")
	if err != nil {
		return err
	}
	version, err := w.schemaVersion()
	if err != nil {
		return err
	}
	if version > len(names) {
		return fmt.Errorf("tables of step %d, this program knows %d: %w", version, len(names), ErrNewer)
	}
	for i := version; i < len(names); i++ {
		text, err := fs.ReadFile(steps, names[i])
		if err != nil {
			return err
		}
		err = w.transact(func() error {
			return w.plain(fmt.Sprintf("%s;\nPRAGMA user_version = %d", text, i+1))
		})
		if err != nil {
			return fmt.Errorf("%s: %w", names[i], err)
		}
	}
	return nil
}

func (w *connection) schemaVersion() (version int, err error) {
	_, err = querier(w.query).one("PRAGMA user_version", nil, &version)
	if err == nil && version < 0 {
		err = ErrCorrupt
	}
	return version, err
}

// current refuses a file that a reader would have to change first.
func (w *connection) current() error {
	names, err := fs.Glob(steps, "schema/*.sql")
	if err != nil {
		return err
	}
	version, err := w.schemaVersion()
	switch {
	case err != nil:
		return err
	case version > len(names):
		return fmt.Errorf("tables of step %d, this program knows %d: %w", version, len(names), ErrNewer)
	case version < len(names):
		return fmt.Errorf("tables of step %d of %d: %w", version, len(names), ErrOlder)
	}
	return nil
}
