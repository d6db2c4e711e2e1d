package node

import "plumbline/node/query"

// term is one of the parts of an expression that all have to be so. It is asked
// once for each combination of values that it looks at.
type term struct {
	program  *query.Program
	facets   []*facet
	combined combinations
	answers  []answer // by the numbers of combinations
}

type answer struct {
	known, yes bool
	err        error
}

// holds answers for the record in a slot of the pack that was loaded last.
func (t *term) holds(r *reader, slot int) (bool, error) {
	n := uint32(0)
	for i, f := range t.facets {
		if i == 0 {
			n = f.codes[slot]
			continue
		}
		n = t.combined.number(n, f.codes[slot])
	}
	for int(n) >= len(t.answers) {
		t.answers = append(t.answers, answer{})
	}
	if !t.answers[n].known {
		t.answers[n] = t.ask(r, slot)
	}
	return t.answers[n].yes, t.answers[n].err
}

func (t *term) ask(r *reader, slot int) answer {
	vars := map[string]any{}
	for _, f := range t.facets {
		if v := f.plain(r, f.codes[slot]); v != nil {
			vars[f.name()] = v
		}
	}
	yes, err := match(t.program, vars)
	return answer{known: true, yes: yes, err: err}
}

// combinations gives each pair of numbers a number of its own, so that a
// combination of any length is told by one.
type combinations struct {
	numbers map[[2]uint32]uint32
	// recent spares the map: the same few combinations come again and again.
	recent [1 << 10]struct {
		pair   [2]uint32
		number uint32
	}
}

func (c *combinations) number(a, b uint32) uint32 {
	pair := [2]uint32{a, b}
	near := &c.recent[(a*31+b)%uint32(len(c.recent))]
	if near.number > 0 && near.pair == pair {
		return near.number
	}
	if c.numbers == nil {
		c.numbers = map[[2]uint32]uint32{}
	}
	n, ok := c.numbers[pair]
	if !ok {
		n = uint32(len(c.numbers)) + 1
		c.numbers[pair] = n
	}
	near.pair, near.number = pair, n
	return n
}
