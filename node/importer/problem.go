package importer

import (
	"errors"
	"fmt"
)

var (
	// ErrTable is returned when a file as a whole is no table that can be
	// imported: neither CSV nor a workbook, too large, or with columns that can't be placed.
	ErrTable = errors.New("can't import this table")
	// ErrKind is returned for a kind of record that no table is made for.
	ErrKind = errors.New("no table for this kind of record")
)

// Problem is one value, or one row, that can't be imported.
type Problem struct {
	File string
	Line int
	// Column is the header as the file has it; empty if the row as a whole is
	// meant.
	Column string
	Value  string
	// Rule is one sentence: what is wrong and what to do.
	Rule string
	// Sheet is set for a workbook, and Cell too if one cell is meant.
	Sheet, Cell string
}

func (o Options) refuse(format string, args ...any) error {
	return fmt.Errorf("%s: %w: %s", o.File, ErrTable, fmt.Sprintf(format, args...))
}

// refuseAt refuses the table for one line of it.
func (o Options) refuseAt(line int, format string, args ...any) error {
	return &refusal{fmt.Sprintf("%s, line %d: %s", o.File, line, fmt.Sprintf(format, args...))}
}

type refusal struct{ sentence string }

func (r *refusal) Error() string { return r.sentence }
func (r *refusal) Unwrap() error { return ErrTable }
