package node

import (
	"bytes"
	"cmp"
	"context"
	"encoding/csv"
	"fmt"
	"slices"

	"plumbline/node/importer"
	"plumbline/node/record"
)

// Export writes the records of a kind that match as a table, and counts them. Without
// columns it has all that a table of the kind can bring back, and the usual figures.
func (n *Node) Export(ctx context.Context, q ExportRequest) ([]byte, int, error) {
	if len(q.Columns) == 0 {
		q.Columns = wholeColumns(cmp.Or(q.Kind, "prospect"))
	}
	l, err := n.List(ctx, ListQuery{Kind: q.Kind, Where: q.Where, Columns: q.Columns, Search: q.Search, Sort: q.Sort, Hidden: q.Hidden})
	if err != nil {
		return nil, 0, err
	}
	if k, err := record.Stored().KindByName(cmp.Or(q.Kind, "prospect")); err == nil {
		l = byKey(k, l)
	}
	var data []byte
	switch q.Format {
	case "", "csv":
		data, err = asCSV(l)
	case "xlsx":
		data, err = asWorkbook(cmp.Or(q.Kind, "prospect"), l)
	default:
		err = refuse(ErrInvalid, "no table can be written as %q; there are csv and xlsx", q.Format)
	}
	if err != nil {
		return nil, 0, err
	}
	return data, len(l.Rows), nil
}

// wholeColumns are those that a listing shows by itself, with every other field of the
// kind behind its last one: none for a kind that isn't known, which the listing says.
func wholeColumns(kind string) []string {
	k, err := record.Stored().KindByName(kind)
	if err != nil {
		return nil
	}
	columns := slices.Clone(usual[k.Number])
	var others []string
	at := 0
	for _, f := range k.Fields() {
		if i := slices.Index(columns, f.Name); i < 0 {
			others = append(others, f.Name)
		} else {
			at = max(at, i+1)
		}
	}
	return slices.Insert(columns, at, others...)
}

// asCSV writes a listing as RFC 4180 has it. A text that a spreadsheet would take
// for a formula gets an apostrophe in front; numbers never do.
func asCSV(l Listing) ([]byte, error) {
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	w.UseCRLF = true
	rows := [][]string{append([]string{importer.RecordColumn}, l.Columns...)}
	for _, row := range l.Rows {
		cells := []string{row.ID.String()}
		for i, text := range row.Texts {
			if isText(row.Cells[i]) {
				text = importer.Guarded(text)
			}
			cells = append(cells, text)
		}
		rows = append(rows, cells)
	}
	if err := w.WriteAll(rows); err != nil {
		return nil, fmt.Errorf("write CSV: %w", err)
	}
	return out.Bytes(), nil
}

// isText reports whether what a cell shows is in somebody's words, in part at least, as
// a list's is: all but numbers.
func isText(cell any) bool {
	switch cell.(type) {
	case nil, int64, float64:
		return false
	}
	return true
}
