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
	if err := n.staffed(); err != nil {
		return nil, err
	}
	r := n.reader(ctx)
	rows, err := r.prospects(false, func(listed) (bool, error) { return true, nil }, nil)
	if err != nil {
		return nil, err
	}
	// Prospects of one school are compared with each other, and those without
	// a school with all: a class is large, a school's share of it small. So is the
	// number of those who have one name.
	bySchool, byName := map[string][]sketch{}, map[string][]sketch{}
	for _, row := range rows {
		s := sketched(row)
		bySchool[s.school] = append(bySchool[s.school], s)
		byName[s.name] = append(byName[s.name], s)
	}
	var found []Double
	add := func(a, b sketch) {
		// In order, so that every laptop says the same.
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
	for _, namesakes := range byName {
		for i, a := range namesakes {
			for _, b := range namesakes[i+1:] {
				if differ(a.school, b.school) { // else they were compared above
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

// sketch is what is compared of a prospect, worked out once.
type sketch struct {
	id                             entry.RecordID
	title, school, position, class string
	name                           string   // as nameWords gives it
	words                          []string // of the name
}

func sketched(l listed) sketch {
	name := nameWords(folded(l, "name"))
	return sketch{id: l.id, title: l.title, school: folded(l, "school"), position: folded(l, "position"), class: folded(l, "class_year"), name: name, words: strings.Fields(name)}
}

func (r *reader) double(a, b sketch, reason string) Double {
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
func alike(a, b sketch) string {
	switch {
	case a.name == "" || b.name == "":
		return ""
	case a.name == b.name:
		return namesakes(a, b)
	case differ(a.class, b.class):
		return ""
	case differ(a.position, b.position) && !neighbours(a.position, b.position):
		return ""
	case near.Alike(a.name, b.name):
		return fmt.Sprintf("close names: %s, %s", a.title, b.title)
	case initial(a.words, b.words) || initial(b.words, a.words):
		return fmt.Sprintf("one name may be short for the other: %s, %s", a.title, b.title)
	}
	return ""
}

// namesakes says why two of one name may be one: at most one thing that is known of
// both speaks against it. Players change schools, and are listed with another class
// when they sit out a season (common practice, no source).
func namesakes(a, b sketch) string {
	var reasons []string
	if differ(a.school, b.school) {
		reasons = append(reasons, "the same name at two schools")
	}
	if differ(a.class, b.class) {
		reasons = append(reasons, "the same name in two classes")
	}
	if differ(a.position, b.position) {
		reasons = append(reasons, "the same name at two positions")
	}
	switch len(reasons) {
	case 0:
		return "the same name but for spelling"
	case 1:
		return reasons[0]
	}
	return ""
}

// differ reports whether both are known and not the same.
func differ(a, b string) bool { return a != "" && b != "" && a != b }

// lines of scrimmage that people write in several ways (common practice, no
// source): an inside lineman is called by his side or by what he plays.
var interior = []string{"guard", "center", "interior_line"}

func neighbours(a, b string) bool {
	return slices.Contains(interior, a) && slices.Contains(interior, b)
}

func folded(l listed, field string) string {
	if v := l.at(field); v != nil {
		return fold(fmt.Sprint(v))
	}
	return ""
}

func fold(text string) string { return strings.ToLower(strings.TrimSpace(text)) }

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
func initial(a, b []string) bool {
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
