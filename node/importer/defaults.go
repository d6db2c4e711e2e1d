package importer

import (
	"maps"
	"slices"
	"strings"
)

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
