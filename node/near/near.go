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
	limit := max(1, utf8.RuneCountInString(typed)/3)
	var found []candidate
	for _, name := range known {
		lower := strings.ToLower(name)
		far := distance([]rune(typed), []rune(lower))
		if len(typed) >= 3 && strings.HasPrefix(lower, typed) {
			far = min(far, 1)
		}
		if far <= limit {
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
	rows := make([][]int, len(a)+1)
	for i := range rows {
		rows[i] = make([]int, len(b)+1)
		rows[i][0] = i
	}
	for j := range rows[0] {
		rows[0][j] = j
	}
	for i := 1; i <= len(a); i++ {
		for j := 1; j <= len(b); j++ {
			change := 1
			if a[i-1] == b[j-1] {
				change = 0
			}
			rows[i][j] = min(rows[i-1][j]+1, rows[i][j-1]+1, rows[i-1][j-1]+change)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				rows[i][j] = min(rows[i][j], rows[i-2][j-2]+1)
			}
		}
	}
	return rows[len(a)][len(b)]
}
