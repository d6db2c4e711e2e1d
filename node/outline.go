package node

import (
	"bytes"
	"cmp"

	"plumbline/node/importer"
	"plumbline/node/record"
)

// Outline reads a table's sheets and heads, and writes nothing.
func (n *Node) Outline(q ImportRequest) (TableOutline, error) {
	k, err := record.Stored().KindByName(q.Kind)
	if err != nil {
		return TableOutline{}, invalid(err)
	}
	o, err := importer.Outlined(bytes.NewReader(q.Data), importer.Options{File: cmp.Or(q.File, "the table"), Kind: k.Number, Sheet: q.Sheet, Derived: derivedOf(k)})
	if err != nil {
		return TableOutline{}, invalid(err)
	}
	out := TableOutline{Sheets: o.Sheets, Sheet: o.Sheet, Rows: o.Rows, Fields: o.Fields}
	for _, c := range o.Columns {
		out.Columns = append(out.Columns, TableColumn{Head: c.Header, Field: c.Field, Samples: c.Samples})
	}
	return out, nil
}
