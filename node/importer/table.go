package importer

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"plumbline/node/workbook"
)

// The bounds of a table. A class has 3,000 prospects and a season 300,000 reps in
// many files; what is larger is a mistake, or meant to fill the memory.
const (
	maxBytes   = 64 << 20
	maxRows    = 200_000
	maxColumns = 200
	maxCell    = 32 << 10
)

// table is a file's cells, with the line on which each row starts.
type table struct {
	// sheet is set for a table from a workbook; lines are its rows then.
	sheet  string
	sheets []string
	header []string
	// own is how many columns the file itself has; the rest come from defaults.
	own int
	// rows are in the order of their lines.
	rows []row
}

type row struct {
	line  int
	cells []string
	// faults says which cells hold no value that counts, and why.
	faults map[int]string
}

// readTable reads a workbook's sheet, or CSV as RFC 4180 has it and what
// spreadsheets make of it: a byte order mark, semicolons or tabs, rows cut short.
func readTable(o Options, r io.Reader) (*table, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxBytes+1))
	if err != nil {
		return nil, o.refuse("reading failed: %v", err)
	}
	if len(data) > maxBytes {
		return nil, o.refuse("larger than %d MiB; split it", maxBytes>>20)
	}
	if bytes.HasPrefix(data, []byte("\xff\xfe")) || bytes.HasPrefix(data, []byte("\xfe\xff")) {
		return nil, o.refuse("this is UTF-16; save it as CSV in UTF-8")
	}
	if workbook.Is(data) {
		return readSheet(o, data)
	}
	if bytes.HasPrefix(data, []byte("\xd0\xcf\x11\xe0")) {
		return nil, o.refuse("this is a workbook of the old kind, or one with a password; save it as .xlsx without one")
	}
	if err := o.refuseForeign(data); err != nil {
		return nil, err
	}
	if o.Sheet != "" {
		return nil, o.refuse("this is CSV, which has no sheet %q", o.Sheet)
	}
	if line, ok := firstNotUTF8(data); ok {
		return nil, o.refuseAt(line, "not UTF-8; save as CSV in UTF-8")
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	reader := csv.NewReader(bytes.NewReader(data))
	reader.Comma = separator(data)
	reader.FieldsPerRecord = -1
	return collect(o, reader)
}

// firstNotUTF8 finds the line of the first byte that isn't UTF-8. In names such
// a file would look well except for a letter here and there, so none of it is
// guessed at.
func firstNotUTF8(data []byte) (line int, found bool) {
	if utf8.Valid(data) {
		return 0, false
	}
	line = 1
	for text := range bytes.Lines(data) {
		if !utf8.Valid(text) {
			break
		}
		line++
	}
	return line, true
}

func collect(o Options, reader *csv.Reader) (*table, error) {
	header, err := reader.Read()
	switch {
	case errors.Is(err, io.EOF):
		return nil, o.refuse("empty; the first line names the columns")
	case err != nil:
		return nil, o.refuse("%v; quotes inside quotes are doubled", err)
	case len(header) > maxColumns:
		return nil, o.refuse("%d columns, and %d are the most", len(header), maxColumns)
	}
	t := &table{header: header}
	for {
		cells, err := reader.Read()
		if errors.Is(err, io.EOF) {
			return t, nil
		}
		if err != nil {
			return nil, o.refuse("%v; quotes inside quotes are doubled", err)
		}
		line, _ := reader.FieldPos(0)
		if len(t.rows) == maxRows {
			return nil, o.refuse("more than %d rows; split it", maxRows)
		}
		for _, cell := range cells {
			if len(cell) > maxCell {
				return nil, o.refuse("line %d: a cell of more than %d KiB; is a quote missing?", line, maxCell>>10)
			}
		}
		if !blank(cells) {
			t.rows = append(t.rows, row{line: line, cells: cells})
		}
	}
}

// separator returns what the header line is separated by: where the comma writes
// decimals, spreadsheets save semicolons.
func separator(data []byte) rune {
	counts := map[rune]int{}
	quoted := false
	for _, c := range string(data[:min(len(data), maxCell)]) {
		if c == '"' {
			quoted = !quoted
		}
		if c == '\n' && !quoted {
			break
		}
		if !quoted {
			counts[c]++
		}
	}
	best := ','
	for _, c := range []rune{';', '\t'} {
		if counts[c] > counts[best] {
			best = c
		}
	}
	return best
}

// unguard takes away the apostrophes that an export has put before texts. The ids of
// records tell that it is one, whatever their column is called, and also where they are
// left out; not a column called so that holds something else.
func (o Options) unguard(t *table) {
	if !slices.ContainsFunc(t.header, func(h string) bool {
		name := o.mapped(strings.TrimSpace(h))
		return fold(name) == RecordColumn || name == Ignored && fold(h) == RecordColumn
	}) {
		return
	}
	for _, r := range t.rows {
		for i, cell := range r.cells {
			r.cells[i] = unguarded(cell)
		}
	}
}

func blank(cells []string) bool {
	for _, cell := range cells {
		if strings.TrimSpace(cell) != "" {
			return false
		}
	}
	return true
}
