package node

import (
	"bytes"
	"cmp"
	"context"
	"encoding/csv"
	"fmt"

	"plumbline/node/importer"
	"plumbline/node/record"
)

// Export writes the records of a kind that match as a table, and counts them.
func (n *Node) Export(ctx context.Context, q ExportRequest) ([]byte, int, error) {
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
