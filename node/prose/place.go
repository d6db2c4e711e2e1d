package prose

import (
	"cmp"
	"slices"
	"strings"
)

// place is a stretch of the base that somebody changed.
type place struct {
	from, to int // in tokens of the base
	by       []int
}

// places gathers where any side changed something. Changes of several people
// that touch, with no word between them that both left alone, are one place.
func places(have []string, sides [][]change) []place {
	var all []place
	for i, side := range sides {
		for _, c := range side {
			all = append(all, place{c.from, c.to, []int{i}})
		}
	}
	slices.SortStableFunc(all, func(a, b place) int { return cmp.Or(cmp.Compare(a.from, b.from), cmp.Compare(a.to, b.to)) })
	var made []place
	for _, p := range all {
		last := len(made) - 1
		if last < 0 || p.from > made[last].to && apart(have[made[last].to:p.from], 1) {
			made = append(made, p)
			continue
		}
		made[last].to = max(made[last].to, p.to)
		made[last].by = append(made[last].by, p.by...)
	}
	return made
}

// several tells of a place that more than one changed.
func several(p place) bool {
	return slices.ContainsFunc(p.by, func(i int) bool { return i != p.by[0] })
}

func all(place) bool { return true }

// withSigns takes the signs that follow into the place. No other place begins
// there: between two there is a word or a line's end.
func (p place) withSigns(have []string) place {
	for p.to < len(have) && sortOf([]rune(have[p.to])[0]) == sign {
		p.to++
	}
	return p
}

// says is what a side says in the place.
func (p place) says(have []string, side []change) string {
	var words []string
	at := p.from
	for _, c := range side {
		if c.from >= p.from && c.to <= p.to {
			words = append(append(words, have[at:c.from]...), c.words...)
			at = c.to
		}
	}
	return strings.Join(append(words, have[at:p.to]...), "")
}
