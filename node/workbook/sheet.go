package workbook

import (
	"encoding/xml"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf16"
)

// Limits are how much of a sheet is read; what is beyond refuses it.
type Limits struct{ Rows, Columns, Cell int }

const (
	// A few bytes of a file can stand for a wide row, and a text that many cells
	// share for a long one: what the rows come to is bounded too.
	maxCells = 8 << 20
	maxText  = 64 << 20
)

// The largest row number that a sheet can have.
const lastRow = 1 << 20

// Sheet is what one sheet holds. Rows without a value are left out.
type Sheet struct {
	Name string
	Rows []Row
	// Sheets are the names of all sheets of its workbook, in their order.
	Sheets []string
}

// Row is one row, with its number on the sheet.
type Row struct {
	Number int
	Cells  []string
	// Faults says what is wrong with cells, by their place in Cells. The text of
	// such a cell is what stands there, for people to find it by.
	Faults map[int]string
}

// Read reads the named sheet of a workbook, or its first one. With the error of a
// sheet that can't be read comes what could be, with the names of the others.
func Read(data []byte, name string, limits Limits) (*Sheet, error) {
	a, err := openArchive(data)
	if err != nil {
		return nil, err
	}
	b, err := openBook(a)
	if err != nil {
		return nil, err
	}
	ref, err := b.find(name)
	if err != nil {
		return nil, err
	}
	r := &sheetReader{book: b, limits: limits, sheet: &Sheet{Name: ref.name, Sheets: b.names()}}
	return r.sheet, a.each(ref.part, r.take)
}

// sheetReader goes through a sheet, one row at a time.
type sheetReader struct {
	book   *book
	limits Limits
	sheet  *Sheet

	row    Row
	cells  int // laid out so far
	bytes  int // of text so far
	column int // of the cell that is read, from 0; -1 before the first
	cell   cell
	inside bool // the rows
	within string
}

// cell is one cell as it stands in the file.
type cell struct {
	kind       string
	style      int
	value      strings.Builder
	text       textOf
	formula    strings.Builder
	calculated bool // has a formula
}

func (r *sheetReader) take(token xml.Token) error {
	switch e := token.(type) {
	case xml.StartElement:
		return r.start(e)
	case xml.EndElement:
		return r.end(e)
	case xml.CharData:
		switch r.within {
		case "v":
			r.cell.value.Write(e)
		case "f":
			r.cell.formula.Write(e)
		case "is":
			r.cell.text.take(e)
		}
		if r.cell.value.Len()+r.cell.formula.Len()+r.cell.text.text.Len() > r.limits.Cell {
			return refuse("sheet %s, cell %s: a cell of more than %d KiB", r.sheet.Name, CellName(r.column, r.row.Number), r.limits.Cell>>10)
		}
	}
	return nil
}

func (r *sheetReader) start(e xml.StartElement) error {
	if r.within == "is" {
		r.cell.text.take(e)
		return nil
	}
	switch name := e.Name.Local; {
	case name == "sheetData":
		r.inside = true
	case !r.inside:
	case name == "row":
		return r.startRow(attr(e, "r"))
	case name == "c":
		return r.startCell(e)
	case name == "f":
		r.cell.calculated = true
		r.within = name
	case name == "v" || name == "is":
		r.within = name
	}
	return nil
}

func (r *sheetReader) startRow(number string) error {
	next := r.row.Number + 1
	if number != "" {
		n, err := strconv.Atoi(number)
		if err != nil || n < next || n > lastRow {
			return refuse("sheet %s: row %.20q stands behind row %d; save it again as .xlsx", r.sheet.Name, number, r.row.Number)
		}
		next = n
	}
	r.row, r.column = Row{Number: next}, -1
	return nil
}

func (r *sheetReader) startCell(e xml.StartElement) error {
	next := r.column + 1
	if name := attr(e, "r"); name != "" {
		n, ok := columnOf(name)
		if !ok || n < next {
			return refuse("sheet %s: cell %.20q is out of order in row %d; save it again as .xlsx", r.sheet.Name, name, r.row.Number)
		}
		next = n
	}
	style, _ := strconv.Atoi(attr(e, "s")) // none is the first
	r.column, r.cell = next, cell{kind: attr(e, "t"), style: style}
	return nil
}

func (r *sheetReader) end(e xml.EndElement) error {
	name := e.Name.Local
	if r.within == "is" && name != "is" {
		r.cell.text.take(e)
		return nil
	}
	if name == r.within {
		r.within = ""
	}
	switch {
	case name == "sheetData":
		r.inside = false
	case !r.inside:
	case name == "c":
		return r.endCell()
	case name == "row":
		return r.endRow()
	}
	return nil
}

func (r *sheetReader) endCell() error {
	text, fault := r.book.read(&r.cell)
	if strings.TrimSpace(text) == "" && fault == "" {
		return nil
	}
	if r.column >= r.limits.Columns {
		return refuse("sheet %s, cell %s: more than %d columns", r.sheet.Name, CellName(r.column, r.row.Number), r.limits.Columns)
	}
	if len(text) > r.limits.Cell {
		return refuse("sheet %s, cell %s: a cell of more than %d KiB", r.sheet.Name, CellName(r.column, r.row.Number), r.limits.Cell>>10)
	}
	for len(r.row.Cells) < r.column {
		r.row.Cells = append(r.row.Cells, "")
	}
	if fault != "" {
		if r.row.Faults == nil {
			r.row.Faults = map[int]string{}
		}
		r.row.Faults[r.column] = fault
	}
	r.row.Cells = append(r.row.Cells, text)
	return nil
}

func (r *sheetReader) endRow() error {
	if len(r.row.Cells) == 0 {
		return nil
	}
	if len(r.sheet.Rows) == r.limits.Rows {
		return refuse("sheet %s has more than %d rows; split it", r.sheet.Name, r.limits.Rows-1)
	}
	r.cells += len(r.row.Cells)
	for _, text := range r.row.Cells {
		r.bytes += len(text)
	}
	if r.cells > maxCells || r.bytes > maxText {
		return refuse("sheet %s is larger than %d cells or %d MiB; split it", r.sheet.Name, maxCells, maxText>>20)
	}
	r.sheet.Rows = append(r.sheet.Rows, r.row)
	return nil
}

// read returns a cell's text, and what is wrong with it.
func (b *book) read(c *cell) (text, fault string) {
	if c.calculated {
		return "=" + strings.TrimSpace(c.formula.String()), "a formula, and what it came to isn't trusted; save the sheet's values (copy, then paste values only)"
	}
	value := c.value.String()
	switch c.kind {
	case "s":
		at, err := strconv.Atoi(strings.TrimSpace(value))
		if err != nil || at < 0 || at >= len(b.strings) {
			return value, "the text of this cell is missing in the file; save it again as .xlsx"
		}
		return b.strings[at], ""
	case "inlineStr":
		return c.text.done(), ""
	case "str":
		return unescape(value), ""
	case "b":
		return strconv.FormatBool(truth(value)), ""
	case "e":
		return value, "the cell holds an error; correct or empty it"
	case "d":
		day, midnight, _ := strings.Cut(strings.TrimSuffix(value, "Z"), "T")
		if strings.Trim(midnight, "0:.") == "" {
			return day, ""
		}
		return value, ""
	}
	if strings.TrimSpace(value) == "" {
		return "", ""
	}
	var f format
	if c.style >= 0 && c.style < len(b.formats) {
		f = b.formats[c.style]
	}
	shown, ok := f.show(strings.TrimSpace(value), b.from)
	if !ok {
		return value, "no number, day or time that the cell's format can show; type it as text"
	}
	return shown, ""
}

// escaped is how a workbook writes what XML can't hold (ECMA-376 part 1, 22.9.2.19).
var escaped = regexp.MustCompile(`_x[0-9A-Fa-f]{4}_`)

func unescape(text string) string {
	if !strings.Contains(text, "_x") {
		return text
	}
	return escaped.ReplaceAllStringFunc(text, func(code string) string {
		unit, err := strconv.ParseUint(code[2:6], 16, 16)
		if err != nil || utf16.IsSurrogate(rune(unit)) {
			return code
		}
		return string(rune(unit))
	})
}

// CellName is what a cell is called on its sheet: C7 is the third of row 7.
func CellName(column, row int) string {
	name := ""
	for n := column + 1; n > 0; n = (n - 1) / 26 {
		name = string(rune('A'+(n-1)%26)) + name
	}
	return name + strconv.Itoa(row)
}

// columnOf reads the column from a cell's name, from 0.
func columnOf(name string) (int, bool) {
	n, digits := 0, strings.TrimLeft(name, "ABCDEFGHIJKLMNOPQRSTUVWXYZ")
	letters := name[:len(name)-len(digits)]
	if letters == "" || len(letters) > 3 {
		return 0, false
	}
	for _, c := range letters {
		n = n*26 + int(c-'A') + 1
	}
	return n - 1, true
}
