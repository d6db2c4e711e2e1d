package node

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"unicode"

	"plumbline/node/near"
	"plumbline/sync/entry"
)

// Doubles suggests prospects that may be one: names that are close, nothing
// known that speaks against it, and nobody who said yes or no. It only
// suggests; a person joins.
func (n *Node) Doubles(ctx context.Context) ([]Double, error) {
	r := n.reader(ctx)
	rows, err := r.prospects(false, func(listed) (bool, error) { return true, nil }, nil)
	if err != nil {
		return nil, err
	}
	// Prospects of one school are compared with each other, and those without
	// a school with all: a class is large, a school's share of it small.
	bySchool := map[string][]listed{}
	for _, row := range rows {
		bySchool[folded(row, "school")] = append(bySchool[folded(row, "school")], row)
	}
	var found []Double
	add := func(a, b listed) {
		// In order, so that every laptop says the same; the rows come as they arrived.
		if b.id < a.id {
			a, b = b, a
		}
		if reason := alike(a, b); reason != "" && !r.decided(a.id, b.id) {
			found = append(found, r.double(a, b, reason))
		}
	}
	for school, group := range bySchool {
		for i, a := range group {
			for _, b := range group[i+1:] {
				add(a, b)
			}
			if school != "" {
				for _, b := range bySchool[""] {
					add(a, b)
				}
			}
		}
	}
	slices.SortFunc(found, func(a, b Double) int {
		return cmp.Or(strings.Compare(a.First.Title, b.First.Title), cmp.Compare(a.First.ID, b.First.ID), cmp.Compare(a.Second.ID, b.Second.ID))
	})
	return found, r.err
}

func (r *reader) double(a, b listed, reason string) Double {
	first, _ := r.group(a.id)
	second, _ := r.group(b.id)
	return Double{First: r.view(first), Second: r.view(second), Reason: reason}
}

// decided reports whether somebody said already what the two are.
func (r *reader) decided(a, b entry.RecordID) bool {
	for _, x := range r.groups.Members(a) {
		for _, y := range r.groups.Members(b) {
			if _, ok := r.row(entry.SameAsID(x, y)); ok {
				return true
			}
		}
	}
	return false
}

// alike says why two prospects may be one; "" if they are not alike.
func alike(a, b listed) string {
	for _, field := range []string{"position", "class_year"} {
		if x, y := folded(a, field), folded(b, field); x != "" && y != "" && x != y && !neighbours(x, y) {
			return ""
		}
	}
	x, y := nameWords(folded(a, "name")), nameWords(folded(b, "name"))
	if x == "" || y == "" {
		return ""
	}
	if x == y {
		return "the same name but for spelling"
	}
	if len(near.Names(x, []string{y})) > 0 {
		return fmt.Sprintf("close names: %s, %s", a.title, b.title)
	}
	if initial(x, y) || initial(y, x) {
		return fmt.Sprintf("one name may be short for the other: %s, %s", a.title, b.title)
	}
	return ""
}

// lines of scrimmage that people write in several ways (common practice, no
// source): an inside lineman is called by his side or by what he plays.
var interior = []string{"guard", "center", "interior_line"}

func neighbours(a, b string) bool {
	return slices.Contains(interior, a) && slices.Contains(interior, b)
}

func folded(l listed, field string) string {
	if v := l.vars[field]; v != nil {
		return strings.ToLower(strings.TrimSpace(fmt.Sprint(v)))
	}
	return ""
}

// nameWords drops marks and suffixes, and sorts, so that "Vale, Orrin Jr." and
// "Orrin Vale" are the same words.
func nameWords(name string) string {
	words := strings.FieldsFunc(name, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '\'' })
	words = slices.DeleteFunc(words, func(w string) bool { return slices.Contains([]string{"jr", "sr", "ii", "iii", "iv"}, w) })
	slices.Sort(words)
	return strings.ReplaceAll(strings.Join(words, " "), "'", "")
}

// initial reports whether one name's words are beginnings of the other's, with
// one word in full: "o vale" and "orrin vale".
func initial(short, long string) bool {
	a, b := strings.Fields(short), strings.Fields(long)
	if len(a) != len(b) || len(a) < 2 {
		return false
	}
	whole := 0
	used := make([]bool, len(b))
	for _, w := range a {
		at := slices.IndexFunc(b, func(x string) bool { return strings.HasPrefix(x, w) })
		if at < 0 || used[at] {
			return false
		}
		used[at] = true
		if b[at] == w {
			whole++
		}
	}
	return whole >= 1
}
