package node

import (
	"bytes"

	"plumbline/node/importer"
)

// Outline reads a table's sheets and heads, and writes nothing.
func (n *Node) Outline(q ImportRequest) (TableOutline, error) {
	options, err := TableOptions(q)
	if err != nil {
		return TableOutline{}, err
	}
	o, err := importer.Outlined(bytes.NewReader(q.Data), options)
	if err != nil {
		return TableOutline{}, invalid(err)
	}
	out := TableOutline{Sheets: o.Sheets, Sheet: o.Sheet, Rows: o.Rows, Fields: o.Fields}
	for _, c := range o.Columns {
		out.Columns = append(out.Columns, TableColumn{Head: c.Header, Field: c.Field, Samples: c.Samples})
	}
	return out, nil
}
