package node

import (
	"maps"
	"slices"

	"plumbline/node/record"
)

// maxKeyColumns bounds how many columns one field is written in: a table of too many
// can't be read back.
const maxKeyColumns = 100

// byKey writes a field that has a value for each key in a column for each: what is
// edited there can be read back, in one cell of all of them it can't.
func byKey(k *record.Kind, l Listing) Listing {
	for at := len(l.Columns) - 1; at >= 0; at-- {
		name := l.Columns[at]
		if f, err := k.FieldByName(name); err != nil || !f.IsMap() {
			continue
		}
		keys := slices.DeleteFunc(keysUnder(l.Rows, at), func(key string) bool { return slices.Contains(l.Columns, name+"."+key) })
		if len(keys) == 0 || len(keys) > maxKeyColumns {
			continue
		}
		columns := make([]string, len(keys))
		for i, key := range keys {
			columns[i] = name + "." + key
		}
		l.Columns = slices.Replace(slices.Clone(l.Columns), at, at+1, columns...)
		for i, row := range l.Rows {
			l.Rows[i] = row.byKey(at, keys)
		}
	}
	return l
}

func keysUnder(rows []Row, at int) []string {
	all := map[string]bool{}
	for _, row := range rows {
		values, _ := row.Cells[at].(map[string]any)
		for key := range values {
			all[key] = true
		}
	}
	return slices.Sorted(maps.Keys(all))
}

func (row Row) byKey(at int, keys []string) Row {
	values, _ := row.Cells[at].(map[string]any)
	cells, texts := make([]any, len(keys)), make([]string, len(keys))
	for i, key := range keys {
		cells[i], texts[i] = values[key], plainText(values[key])
	}
	row.Cells = slices.Replace(row.Cells, at, at+1, cells...)
	row.Texts = slices.Replace(row.Texts, at, at+1, texts...)
	return row
}
