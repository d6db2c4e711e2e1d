package prose

import (
	"slices"
	"strings"
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

// most is how many tokens of two texts are compared word by word. The time that
// takes grows with the square of what differs; longer texts are compared sentence
// by sentence first, and a stretch that is longer still counts as one change.
const most = 2000

// changes finds what leads from one text to another.
func changes(have, want []string) []change {
	if len(have)+len(want) <= most {
		return joined(have, slid(have, differences(have, want)))
	}
	before, after := sentences(have), sentences(want)
	var found []change
	whole := change{0, len(before), after}
	rough := []change{whole}
	if len(before)+len(after) <= most {
		rough = differences(before, after)
	}
	from, to, done := 0, 0, 0
	for _, r := range rough {
		from += count(before[done:r.from])
		to, done = from+count(before[r.from:r.to]), r.to
		words := tokens(strings.Join(r.words, ""))
		if to-from+len(words) > most {
			found = append(found, change{from, to, words})
		} else {
			for _, c := range differences(have[from:to], words) {
				found = append(found, change{from + c.from, from + c.to, c.words})
			}
		}
		from = to
	}
	return joined(have, slid(have, found))
}

// sentences puts tokens together up to the end of a line or of a sentence.
func sentences(of []string) []string {
	var cut []string
	start := 0
	for i, token := range of {
		if token == "\n" || strings.ContainsAny(token, ".!?") {
			cut = append(cut, strings.Join(of[start:i+1], ""))
			start = i + 1
		}
	}
	if start < len(of) {
		cut = append(cut, strings.Join(of[start:], ""))
	}
	return cut
}

// count is how many tokens sentences hold.
func count(sentences []string) int {
	n := 0
	for _, s := range sentences {
		n += len(tokens(s))
	}
	return n
}

// differences finds where two lists differ.
func differences(have, want []string) []change {
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
	return found
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
		steps := 0
		for c.from == c.to && c.to+steps < end && c.words[steps%len(c.words)] == have[c.to+steps] {
			steps++
		}
		if steps > 0 {
			turn := steps % len(c.words)
			c.words = slices.Concat(c.words[turn:], c.words[:turn])
			c.from, c.to = c.from+steps, c.to+steps
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
