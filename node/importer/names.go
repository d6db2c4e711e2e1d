package importer

import (
	"slices"

	"plumbline/node/measure"
)

// names are those that a column of a table may have, in the order in which they are
// best written. Of a field that shares its name with one of another record it is the
// first other name that means this one; KEY stands for a key.
func (l layout) names() []string {
	var names []string
	add := func(some ...string) {
		for _, name := range some {
			if !slices.Contains(names, name) {
				names = append(names, name)
			}
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
			add(name)
		}
	}
	if l.wide {
		for _, w := range measure.All() {
			add(w.String())
		}
	}
	if l.long {
		add(string(aboutWhat), string(aboutValue))
	}
	if l.wide || l.long {
		add(string(aboutSource), string(aboutTiming), string(aboutDate))
	}
	if l.takesIDs() {
		add(RecordColumn)
	}
	return names
}
