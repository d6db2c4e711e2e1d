package importer

import (
	"fmt"
	"strings"

	"plumbline/node/measure"
	"plumbline/sync/entry"
)

// TemplateColumn is a column that a table of a kind may have.
type TemplateColumn struct{ Name, Help string }

// Template lists the columns of a kind's table, in the order in which they are
// best written.
func Template(kind entry.Kind) ([]TemplateColumn, error) {
	l, err := layoutOf(kind)
	if err != nil {
		return nil, err
	}
	return l.template(), nil
}

func (l layout) template() []TemplateColumn {
	var columns []TemplateColumn
	seen := map[string]bool{}
	add := func(name, help string) {
		if !seen[name] {
			seen[name] = true
			columns = append(columns, TemplateColumn{name, help})
		}
	}
	for i := len(l.parts) - 1; i >= 0; i-- {
		for _, f := range l.parts[i].columns() {
			name := f.Name
			if r, ok := l.find(name); ok && r.kind != l.parts[i].kind && len(f.Aliases) > 0 {
				name = f.Aliases[0]
			}
			if f.IsMap() {
				name += ".KEY"
			}
			help := f.Help
			if values := f.Values(); help == "" && values != nil {
				help = strings.Join(values, ", ")
			}
			add(name, help)
		}
	}
	if l.wide {
		for _, w := range measure.All() {
			add(w.String(), fmt.Sprintf("in the trade's notation, counted in %s", w.Unit()))
		}
	}
	if l.long {
		add(string(aboutWhat), "what was measured, such as height or forty")
		add(string(aboutValue), "the number in the trade's notation")
	}
	if l.wide || l.long {
		add(string(aboutSource), "listed, estimated or verified; of all numbers in the row")
		add(string(aboutTiming), "hand or electronic; of all times in the row")
		add(string(aboutDate), "YYYY-MM-DD; of all numbers in the row")
	}
	switch {
	case l.saved || l.isOwned():
		add(RecordColumn, "the id of the record, as an export has it")
	case l.takesIDs():
		add(RecordColumn, "the id of the record, as an export has it; "+AnotherOne+" for one who has the name of another")
	}
	return columns
}

// names are the columns' names, for near ones.
func (l layout) names() []string {
	var names []string
	for _, c := range l.template() {
		names = append(names, c.Name)
	}
	return names
}
