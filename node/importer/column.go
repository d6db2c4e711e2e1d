package importer

import (
	"fmt"
	"slices"
	"strings"

	"plumbline/node/measure"
	"plumbline/node/near"
	"plumbline/node/record"
	"plumbline/sync/entry"
)

// Ignored is what a header is mapped to when its column is left out.
const Ignored = "-"

// about names what a measurement's columns say besides a number.
type about string

const (
	aboutWhat   about = "what"
	aboutValue  about = "value"
	aboutSource about = "source"
	aboutTiming about = "timing"
	aboutDate   about = "date"
	aboutRecord about = RecordColumn
)

// column is where one column's cells go: into a register, into a measurement of
// its own, or into what is said about the row's measurements.
type column struct {
	index    int
	header   string
	kind     entry.Kind
	register record.Register
	measure  measure.What
	about    about
}

// name is the column's name among [layout.names].
func (c column) name() string {
	switch {
	case c.about != "":
		return string(c.about)
	case c.measure != 0:
		return c.measure.String()
	}
	return c.register.Path()
}

// shownName is the name by which an export asks for a column that goes nowhere.
func (c column) shownName() string {
	if c.measure != 0 {
		return c.measure.String()
	}
	base, key, keyed := strings.Cut(c.header, ".")
	if base = fold(base); keyed {
		base += "." + key
	}
	return base
}

// place finds where each column of a header goes, and which hold only what
// [Options.Derived] names.
func place(o Options, l layout, t *table) (columns, derived []column, err error) {
	if err := o.checkMap(t.header); err != nil {
		return nil, nil, err
	}
	taken := map[string]string{}
	var heads, unknown []string
	exported := o.isExport(t)
	for i, header := range t.header {
		header = strings.TrimSpace(header)
		name := o.mapped(header)
		if name == Ignored || (name == "" && emptyColumn(t, i)) {
			continue
		}
		if name == "" {
			return nil, nil, o.refuse("column %d has values but no name; name it, or empty it", i+1)
		}
		c, ok := l.find(name)
		if name == header && o.leavesOut(l, c, ok, name, exported) {
			c.index, c.header = i, header
			derived = append(derived, c)
			continue
		}
		if !ok {
			unknown = append(unknown, name)
			heads = append(heads, header)
			continue
		}
		c.index, c.header = i, header
		key := fmt.Sprint(c.kind, " ", c.name())
		if other, twice := taken[key]; twice {
			if fold(other) == fold(header) {
				return nil, nil, o.refuse("two columns are headed %q; rename one of the two heads in the file, since columns are told apart by them", header)
			}
			return nil, nil, o.misplaced(Misplaced{Twice: []string{other, header}}, "columns %q and %q both mean %s; leave one of them out", other, header, c.name())
		}
		taken[key] = header
		columns = append(columns, c)
	}
	if len(unknown) > 0 {
		return nil, nil, o.refuseUnknown(heads, unknown, l.names())
	}
	return columns, derived, l.check(o, columns)
}

// refuseUnknown names all columns that go nowhere, so that one look at the table
// is enough.
func (o Options) refuseUnknown(heads, unknown, known []string) error {
	m := Misplaced{Fields: known}
	lines := ""
	for i, head := range heads {
		m.Unknown = append(m.Unknown, Misfit{head, near.Names(unknown[i], known)})
		lines += fmt.Sprintf("\n  %q%s", head, near.Hint(unknown[i], known))
	}
	if len(heads) == 1 {
		return o.misplaced(m, "column %q is not known here; give it a field, or leave it out%s", heads[0], near.Hint(unknown[0], known))
	}
	return o.misplaced(m, "%d columns have no place; give each a field, or leave it out:%s", len(heads), lines)
}

// RecordColumn heads the ids of records in a table that was exported. [AnotherOne] in
// the place of an id says that the row is none of those that are there already.
const (
	RecordColumn = "record"
	AnotherOne   = "new"
)

// isExport reports whether a table has the ids that an export writes and no
// source of its own: its measures were chosen among several then.
func (o Options) isExport(t *table) bool {
	return o.has(t, RecordColumn) && !o.has(t, string(aboutSource)) && o.Source == ""
}

// has reports whether a column goes by a name, its own or what it is mapped to.
func (o Options) has(t *table, name string) bool {
	return slices.ContainsFunc(t.header, func(h string) bool { return fold(o.mapped(strings.TrimSpace(h))) == name })
}

// leavesOut reports whether a column holds only what is worked out from records:
// one that has no place, or measures that were chosen among several.
func (o Options) leavesOut(l layout, c column, placed bool, name string, exported bool) bool {
	return !placed && (o.isDerived(name) || exported && l.shows(name)) || c.measure != 0 && exported
}

func (o Options) isDerived(name string) bool {
	base, _, keyed := strings.Cut(fold(name), ".")
	hasKeys, known := o.Derived[base]
	return base == RecordColumn && !keyed || known && (hasKeys || !keyed)
}

// find places one name. The layout's own parts win over measures.
func (l layout) find(name string) (column, bool) {
	if l.takesIDs() && fold(name) == RecordColumn {
		return column{about: aboutRecord}, true
	}
	if l.long {
		if a, ok := abouts[fold(name)]; ok {
			return column{about: a}, true
		}
	}
	for _, p := range l.parts {
		if r, ok := p.register(name); ok {
			return column{kind: p.kind, register: r}, true
		}
	}
	if !l.wide {
		return column{}, false
	}
	if a, ok := abouts[fold(name)]; ok && a != aboutWhat && a != aboutValue {
		return column{about: a}, true
	}
	what, err := record.MeasureNamed(name)
	return column{kind: record.Measurement, measure: what}, err == nil
}

var abouts = map[string]about{
	"what": aboutWhat, "measure": aboutWhat,
	"value": aboutValue, "reading": aboutValue, "typed": aboutValue,
	"source": aboutSource, "timing": aboutTiming,
	"date": aboutDate, "measured": aboutDate, "measured on": aboutDate,
}

// check says which column a table lacks.
func (l layout) check(o Options, columns []column) error {
	has := func(name string) bool {
		return slices.ContainsFunc(columns, func(c column) bool { return c.name() == name })
	}
	for _, name := range l.needs {
		if !has(name) && !(l.takesIDs() && has(RecordColumn)) {
			return o.misplaced(l.missing(name), "a column %q is missing; add it, or map the one that holds it", name)
		}
	}
	measured := l.long || slices.ContainsFunc(columns, func(c column) bool { return c.measure != 0 })
	if measured && !has(string(aboutSource)) && o.Source == "" {
		return o.misplaced(Misplaced{Missing: []string{string(aboutSource)}}, "numbers need their source: add a column source (listed, estimated, verified), or give one for the whole table")
	}
	for _, p := range l.parts {
		if p.kind == record.Prospect && !has(RecordColumn) && !has("list_id") && !(has("name") && has("school") && has("class_year")) {
			missing := slices.DeleteFunc([]string{"name", "school", "class_year"}, has)
			return o.misplaced(l.missing(missing...), "a prospect is known by list_id, or by name, school and class_year; add those columns")
		}
	}
	return nil
}

// missing says what is missing of a table, and what of that one value can't stand for.
func (l layout) missing(names ...string) Misplaced {
	return Misplaced{Missing: names, Each: slices.DeleteFunc(slices.Clone(names), func(name string) bool { return !slices.Contains(l.apart, name) })}
}

// checkMap finds slips in the mapping itself.
func (o Options) checkMap(header []string) error {
	known := make([]string, 0, len(header))
	for _, name := range header {
		known = append(known, strings.TrimSpace(name))
	}
	for name := range o.Map {
		if !slices.ContainsFunc(known, func(h string) bool { return fold(h) == fold(name) }) {
			return o.misplaced(Misplaced{Unheard: []Misfit{{name, near.Names(name, known)}}}, "%q is mapped, but no column is called so%s", name, near.Hint(name, known))
		}
	}
	return nil
}

func (o Options) mapped(header string) string {
	for name, field := range o.Map {
		if fold(name) == fold(header) {
			return field
		}
	}
	return header
}

func emptyColumn(t *table, index int) bool {
	return !slices.ContainsFunc(t.rows, func(r row) bool {
		return index < len(r.cells) && strings.TrimSpace(r.cells[index]) != ""
	})
}
