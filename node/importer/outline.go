package importer

import (
	"io"
	"strings"
)

// Outline says what a table holds, for a person who chooses one of its sheets and
// says which column is which.
type Outline struct {
	// Sheets are those of a workbook, in its order, and Sheet the one that was read.
	Sheets []string
	Sheet  string
	// Columns are none if the sheet can't be read: [Import] says why. Those that an
	// import leaves out by itself aren't among them.
	Columns []OutlineColumn
	Rows    int
	// Fields are the names that a column of this kind of table can have.
	Fields []string
}

// OutlineColumn is one column: its header, the field that this names by itself, if
// it does, and what stands in the first rows that hold something.
type OutlineColumn struct {
	Header, Field string
	Samples       []string
}

const (
	samples      = 3
	sampleLength = 60
)

// Outlined reads a table as far as [Outline] tells of it.
func Outlined(r io.Reader, o Options) (*Outline, error) {
	l, err := layoutOf(o.Kind)
	if err != nil {
		return nil, err
	}
	t, err := readTable(o, r)
	if t == nil {
		return nil, err
	}
	if o.isExport(t) && l.lacks(o, t) {
		l = savedLayout(o.Kind)
	}
	out := &Outline{Sheets: t.sheets, Sheet: t.sheet, Rows: len(t.rows), Fields: l.names()}
	exported := o.isExport(t)
	for i, header := range t.header {
		column := OutlineColumn{Header: strings.TrimSpace(header), Samples: t.samples(i)}
		c, ok := l.find(column.Header)
		if o.leavesOut(l, c, ok, column.Header, exported) {
			continue
		}
		if ok {
			column.Field = c.name()
		}
		out.Columns = append(out.Columns, column)
	}
	return out, nil
}

func (t *table) samples(index int) []string {
	var found []string
	for _, r := range t.rows {
		if len(found) == samples {
			break
		}
		if index >= len(r.cells) || strings.TrimSpace(r.cells[index]) == "" {
			continue
		}
		text := []rune(strings.TrimSpace(r.cells[index]))
		found = append(found, string(text[:min(len(text), sampleLength)]))
	}
	return found
}
