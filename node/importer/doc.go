// Package importer turns a table (CSV, or a sheet of a workbook) into proposed records. Start at [Import];
// layout.go says which tables there are, and key.go by what a record is known
// again.
//
// It proposes and never writes. Records are named by natural keys; its caller
// turns them into ids, and decides what becomes of a table with bad rows.
//
// The package refuses to guess: a column without a name that it knows, a value
// that can be read in two ways and a record that stands twice are problems, each
// with its line.
package importer
