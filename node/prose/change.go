package prose

import (
	"slices"
	"unicode/utf8"

	"github.com/sergi/go-diff/diffmatchpatch"
)

// change puts words in the place of a stretch of the base.
type change struct {
	from, to int // in tokens of the base
	words    []string
}

// island is how many words must stay between two changes of one person for them
// to count as two: fewer are what is left by chance of a sentence written anew.
const island = 3

// changes finds what leads from one text to another.
func changes(have, want []string) []change {
	var found []change
	at, read := 0, 0
	for _, d := range compared(have, want) {
		n := utf8.RuneCountInString(d.Text)
		switch last := len(found) - 1; {
		case d.Type == diffmatchpatch.DiffEqual:
			at, read = at+n, read+n
			continue
		case last < 0 || found[last].to < at:
			found = append(found, change{from: at, to: at})
		}
		c := &found[len(found)-1]
		if d.Type == diffmatchpatch.DiffDelete {
			at += n
			c.to = at
		} else {
			c.words = append(c.words, want[read:read+n]...)
			read += n
		}
	}
	return joined(have, slid(have, found))
}

// compared lets the library compare: each different token stands as one rune.
func compared(have, want []string) []diffmatchpatch.Diff {
	names := map[string]rune{}
	name := func(tokens []string) []rune {
		named := make([]rune, len(tokens))
		for i, token := range tokens {
			r, ok := names[token]
			if !ok {
				if r = rune(len(names)) + 1; r >= surrogates {
					r += surrogatesEnd - surrogates
				}
				names[token] = r
			}
			named[i] = r
		}
		return named
	}
	differ := diffmatchpatch.New()
	differ.DiffTimeout = 0 // with a clock, a slow laptop would merge otherwise than a fast one
	return differ.DiffMainRunes(name(have), name(want), false)
}

// Surrogates are no runes of their own: a string doesn't keep them.
const surrogates, surrogatesEnd = 0xD800, 0xE000

// slid moves what is only put in or only taken out as far back as it goes
// without saying something else, so that a sentence which is added stays whole
// and two who add the same agree where.
func slid(have []string, found []change) []change {
	end := len(have)
	for i := len(found) - 1; i >= 0; i-- {
		c := &found[i]
		for c.from == c.to && c.to < end && c.words[0] == have[c.to] {
			c.words = append(slices.Clone(c.words[1:]), c.words[0])
			c.from, c.to = c.from+1, c.to+1
		}
		for len(c.words) == 0 && c.to < end && have[c.from] == have[c.to] {
			c.from, c.to = c.from+1, c.to+1
		}
		end = c.from
	}
	return found
}

// joined makes one of changes that stand too near to each other.
func joined(have []string, found []change) []change {
	var made []change
	for _, c := range found {
		if last := len(made) - 1; last >= 0 && !apart(have[made[last].to:c.from], island) {
			made[last].words = slices.Concat(made[last].words, have[made[last].to:c.from], c.words)
			made[last].to = c.to
			continue
		}
		made = append(made, c)
	}
	return made
}
