package importer

import (
	"slices"

	"plumbline/node/workbook"
)

// readSheet reads one sheet of a workbook. Its first row that holds anything
// names the columns. Of a sheet that can't be read the table still tells which
// others there are.
func readSheet(o Options, data []byte) (*table, error) {
	sheet, err := workbook.Read(data, o.Sheet, workbook.Limits{Rows: maxRows + 1, Columns: maxColumns, Cell: maxCell})
	if sheet == nil {
		return nil, o.refuse("%v", err)
	}
	t := &table{sheet: sheet.Name, sheets: sheet.Sheets}
	if err != nil {
		return t, o.refuse("%v", err)
	}
	if len(sheet.Rows) == 0 {
		return t, o.refuse("sheet %s is empty; its first row names the columns", sheet.Name)
	}
	header := sheet.Rows[0]
	for at, fault := range header.Faults {
		return t, o.refuse("sheet %s, cell %s: %s", sheet.Name, workbook.CellName(at, header.Number), fault)
	}
	t.header = header.Cells
	for _, r := range sheet.Rows[1:] {
		t.rows = append(t.rows, row{line: r.Number, cells: r.Cells, faults: r.Faults})
	}
	return t, nil
}

// cellOf names the cell of a problem; none if the row as a whole is wrong.
func (b *builder) cellOf(p Problem) string {
	if b.sheet == "" || p.Column == "" {
		return ""
	}
	at := slices.IndexFunc(b.columns, func(c column) bool { return c.header == p.Column })
	if at < 0 {
		at = slices.IndexFunc(b.columns, func(c column) bool { return c.name() == p.Column })
	}
	// What a default says stands in no cell.
	if at < 0 || b.columns[at].index >= b.own {
		return ""
	}
	return workbook.CellName(b.columns[at].index, p.Line)
}

// tooWide is the rule of a row with more cells than the header has.
func (b *builder) tooWide() string {
	if b.sheet != "" {
		return "name the columns in the header, or empty the cells"
	}
	return "is a comma not quoted?"
}
