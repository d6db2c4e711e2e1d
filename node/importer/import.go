package importer

import (
	"cmp"
	"io"
	"slices"

	"plumbline/node/record"
	"plumbline/sync/entry"
)

// Options say what is imported and how its columns are read.
type Options struct {
	// File is the name that problems give.
	File string
	// Sheet names the sheet of a workbook; its first one if empty.
	Sheet string
	// Kind is what a row is: a prospect, a measurement, a game, a rep or an evaluation.
	Kind entry.Kind
	// Map gives the field for headers that aren't fields' names; [Ignored] leaves
	// a column out.
	Map map[string]string
	// Defaults gives the value of a column, by field, for rows that leave it empty
	// or a file that has no such column: whom a file of reps is about.
	Defaults map[string]string
	// Derived names what is worked out from records, which an export has in columns
	// beside the fields: such a column that is no field of the table is left out. It is
	// true of those that have keys, as grades.hand_use.
	Derived map[string]bool
	// Standing, unless nil, tells what an export shows of a record's field: all that
	// stands there, what it shows first. A cell of such a row that says just this is none of its values,
	// whether or not it could be read.
	Standing func(recordID string, r record.Register) []string
	// Source, Timing and Date hold for measurements whose row says nothing else.
	Source, Timing, Date string
}

// Proposal is one record as the table has it.
type Proposal struct {
	Kind entry.Kind
	// NaturalKey is what the record is known by, unique within its kind. For an
	// owned record it doesn't hold the person.
	NaturalKey string
	// Mention is set when the table is about other records and only names this
	// one: it is to be found, and made only if it isn't there.
	Mention bool
	// Record is the id of the record, where the row gives it.
	Record string
	// Complete is set if the row says all that a new record is known by.
	Complete bool
	// AnotherOne is set if the row says that it is none of those that are there.
	AnotherOne bool
	Fields     []FieldValue
	// Empty are the registers whose cells are empty in a row that gives its record.
	Empty []record.Register
	// Beside are the registers whose cells say what stands there, but not what an export
	// shows first of it.
	Beside []record.Register
	// Shown are cells of such a row that are left out, since an export only shows what
	// they say.
	Shown []ShownCell
	// Line is where the record stands first.
	Line int
}

// ShownCell is a cell of a column that a table doesn't change, with the name by which
// an export asks for it.
type ShownCell struct{ Header, Name, Text string }

// FieldValue is one value, or a reference to another proposal.
type FieldValue struct {
	Register record.Register
	// Value is checked and canonical; it has no bytes for a reference.
	Value record.Value
	// RefKind and RefKey name the proposal that a reference points to.
	RefKind entry.Kind
	RefKey  string
}

// IsRef reports whether the value is a reference to another proposal.
func (v FieldValue) IsRef() bool { return v.RefKey != "" }

// Column says where a column of the file went.
type Column struct{ Header, Field string }

// Result is what a table proposes.
type Result struct {
	// Proposals come in the order of the table, what is referred to before what
	// refers to it. A row with a problem proposes nothing.
	Proposals []Proposal
	// Problems are at most [MaxProblems]; Failed counts all rows with one.
	Problems []Problem
	Failed   int
	Rows     int
	Columns  []Column
	// Derived are the headers of columns that were left out, since they hold what is
	// worked out from records.
	Derived []string
	// Sheet is the one that was read, if the file is a workbook.
	Sheet string

	table *table
}

// Line returns what stands in the row of a line, or of a number on the sheet.
func (r *Result) Line(line int) (cells []string, ok bool) {
	at, ok := slices.BinarySearchFunc(r.table.rows, line, func(r row, line int) int { return cmp.Compare(r.line, line) })
	if !ok {
		return nil, false
	}
	cells = r.table.rows[at].cells
	return cells[:min(len(cells), r.table.own)], true
}

// MaxProblems is how many problems are listed; who has more has one.
const MaxProblems = 100

// Import reads a table. An error means that nothing of it can be read; problems of
// single rows are in the result.
func Import(r io.Reader, o Options) (*Result, error) {
	l, err := layoutOf(o.Kind)
	if err != nil {
		return nil, err
	}
	t, err := readTable(o, r)
	if err != nil {
		return nil, err
	}
	if o.isExport(t) && l.lacks(o, t) {
		l = savedLayout(o.Kind)
	}
	if l.long && o.has(t, RecordColumn) {
		return nil, o.refuse("columns that name prospects enter numbers, and the column %q names numbers that are here; leave either out: map it, or them, to -", RecordColumn)
	}
	o.unguard(t)
	t.own = len(t.header)
	if err := o.checkDefaults(l, t); err != nil {
		return nil, err
	}
	t.fill(o.Defaults)
	columns, derived, err := place(o, l, t)
	if err != nil {
		return nil, err
	}
	b := newBuilder(o, l, columns, t)
	b.derived = derived
	for _, row := range t.rows {
		b.add(row)
	}
	out := b.result(t)
	for _, c := range derived {
		out.Derived = append(out.Derived, c.header)
	}
	return out, nil
}
