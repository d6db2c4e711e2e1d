package node

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"strings"
)

// Export writes the records of a kind that match as CSV (RFC 4180). A text
// that a spreadsheet would take for a formula gets an apostrophe in front;
// numbers never do.
func (n *Node) Export(ctx context.Context, kind, where string, columns []string) ([]byte, int, error) {
	l, err := n.List(ctx, ListQuery{Kind: kind, Where: where, Columns: columns})
	if err != nil {
		return nil, 0, err
	}
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	w.UseCRLF = true
	rows := [][]string{append([]string{"record"}, l.Columns...)}
	for _, row := range l.Rows {
		cells := []string{row.ID.String()}
		for i, text := range row.Texts {
			if _, isText := row.Cells[i].(string); isText {
				text = harmless(text)
			}
			cells = append(cells, text)
		}
		rows = append(rows, cells)
	}
	if err := w.WriteAll(rows); err != nil {
		return nil, 0, fmt.Errorf("write CSV: %w", err)
	}
	return out.Bytes(), len(l.Rows), nil
}

func harmless(text string) string {
	if text != "" && strings.ContainsRune("=+-@\t\r", rune(text[0])) {
		return "'" + text
	}
	return text
}
