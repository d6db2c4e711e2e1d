package node

import (
	"strings"

	"plumbline/node/exporter"
	"plumbline/node/importer"
)

// asWorkbook writes a listing as a workbook. A number there is one that people
// write as such: a height's 6046 too, but not its 6-4.
func asWorkbook(name string, l Listing) ([]byte, error) {
	header := append([]string{importer.RecordColumn}, l.Columns...)
	rows := make([][]exporter.Value, len(l.Rows))
	for i, row := range l.Rows {
		rows[i] = append(rows[i], exporter.Value{Text: row.ID.String()})
		for at, text := range row.Texts {
			words := isText(row.Cells[at])
			if words && strings.HasPrefix(text, "'") {
				text = importer.Guarded(text)
			}
			rows[i] = append(rows[i], exporter.Value{Text: text, Number: !words})
		}
	}
	data, err := exporter.Workbook(name, header, rows)
	if err != nil {
		return nil, refuse(ErrInvalid, "no workbook can hold these: %v", err)
	}
	return data, nil
}
