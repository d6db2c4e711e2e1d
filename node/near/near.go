// Package near finds the names that somebody who typed an unknown one may have
// meant. Start at [Hint]. It refuses to choose for them.
package near

import (
	"cmp"
	"slices"
	"strings"
	"unicode/utf8"
)

// most is how many names a person still reads.
const most = 3

// Names returns at most three of the known names that look like what was typed,
// the closest first.
func Names(typed string, known []string) []string {
	type candidate struct {
		name string
		far  int
	}
	typed = strings.ToLower(typed)
	var found []candidate
	for _, name := range known {
		if far, near := measure(typed, strings.ToLower(name)); near {
			found = append(found, candidate{name, far})
		}
	}
	slices.SortFunc(found, func(a, b candidate) int {
		return cmp.Or(cmp.Compare(a.far, b.far), cmp.Compare(a.name, b.name))
	})
	found = slices.CompactFunc(found, func(a, b candidate) bool { return a.name == b.name })
	var names []string
	for _, c := range found[:min(most, len(found))] {
		names = append(names, c.name)
	}
	return names
}

// Alike reports whether a name looks like what was typed, both in lower case.
func Alike(typed, name string) bool {
	_, near := measure(typed, name)
	return near
}

// measure says how far a name is from what was typed, and whether that is near.
func measure(typed, name string) (far int, near bool) {
	limit := max(1, utf8.RuneCountInString(typed)/3)
	if len(typed) >= 3 && strings.HasPrefix(name, typed) {
		return min(1, utf8.RuneCountInString(name)-utf8.RuneCountInString(typed)), true
	}
	// Every letter more or less is a step of its own.
	if apart := utf8.RuneCountInString(name) - utf8.RuneCountInString(typed); max(apart, -apart) > limit {
		return 0, false
	}
	far = distance([]rune(typed), []rune(name))
	return far, far <= limit
}

// Hint returns the end of an error's sentence: the near names, or all of them if
// they are few, or nothing.
func Hint(typed string, known []string) string {
	if names := Names(typed, known); len(names) > 0 {
		return "; did you mean " + Or(names) + "?"
	}
	if len(known) > 0 && len(known) <= 16 {
		return "; known: " + strings.Join(known, ", ")
	}
	return ""
}

// Or joins names as a sentence does: a, b or c.
func Or(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	last := len(names) - 1
	return strings.Join(names[:last], ", ") + " or " + names[last]
}

// distance counts insertions, deletions, replacements and swaps of neighbours
// (optimal string alignment).
func distance(a, b []rune) int {
	// Three rows of the table: the one before the last, the last, the current.
	var space [3 * 64]int
	table := space[:]
	width := len(b) + 1
	if 3*width > len(table) {
		table = make([]int, 3*width)
	}
	before, last, row := table[:width], table[width:2*width], table[2*width:3*width]
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			change := 1
			if a[i-1] == b[j-1] {
				change = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+change)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(b)]
}
