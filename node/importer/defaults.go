package importer

import (
	"maps"
	"slices"
	"strings"

	"plumbline/node/near"
)

// checkDefaults refuses what rows are to get that is neither a field nor a column of
// the table: nobody wrote such a column.
func (o Options) checkDefaults(l layout, t *table) error {
	m := Misplaced{Fields: l.names()}
	for _, name := range slices.Sorted(maps.Keys(o.Defaults)) {
		_, isField := l.find(name)
		if isField || slices.ContainsFunc(t.header, func(h string) bool { return strings.EqualFold(strings.TrimSpace(h), name) }) {
			continue
		}
		m.Unset = append(m.Unset, Misfit{name, near.Names(name, m.Fields)})
	}
	if len(m.Unset) == 0 {
		return nil
	}
	first := m.Unset[0].Name
	return o.misplaced(m, "every row is to be given %q, which is no field of this table%s", first, near.Hint(first, m.Fields))
}

// fill puts the defaults where a row leaves their column empty, and adds the
// columns that the file doesn't have.
func (t *table) fill(defaults map[string]string) {
	for _, name := range slices.Sorted(maps.Keys(defaults)) {
		at := slices.IndexFunc(t.header, func(h string) bool { return strings.EqualFold(strings.TrimSpace(h), name) })
		added := at < 0
		if added {
			at = len(t.header)
			t.header = append(t.header, name)
		}
		for i := range t.rows {
			if added && len(t.rows[i].cells) > at {
				// A cell too many stays one too many.
				t.rows[i].cells = slices.Insert(t.rows[i].cells, at, "")
			}
			for len(t.rows[i].cells) <= at {
				t.rows[i].cells = append(t.rows[i].cells, "")
			}
			if strings.TrimSpace(t.rows[i].cells[at]) == "" {
				t.rows[i].cells[at] = defaults[name]
			}
		}
	}
}
