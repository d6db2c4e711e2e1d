package merge

import (
	"slices"

	"plumbline/sync/entry"
)

// Ancestor finds what the live values of a register were before they went apart:
// the last value that all of them came from, directly or by way of others. Equal
// values count as one, and one of their writers is enough. False when there is no
// such value, or when there are several that differ: behind a conflict that two
// people settled in two ways stand all of its values, and none of them is what
// both began with.
//
// writes are the applied ones on the record, in any order.
func (r *Register) Ancestor(writes []Write) (Value, bool) {
	past := r.past(writes)
	times := map[entry.ID]int{}
	different := 0
	for i, v := range r.Live {
		if slices.ContainsFunc(r.Live[:i], v.equal) {
			continue
		}
		different++
		var writers []entry.ID
		for _, same := range r.Live {
			if same.equal(v) {
				writers = append(writers, same.ID)
			}
		}
		for id := range past.behind(writers) {
			times[id]++
		}
	}
	var found []written
	replaced := map[entry.ID]bool{}
	for id, n := range times {
		if n == different {
			found = append(found, past.writes[id])
			for _, old := range past.writes[id].replaces {
				replaced[past.first(old)] = true
			}
		}
	}
	// What lies behind a value that all came from is behind all, too: so the last
	// ones are those that no other one of them replaces.
	found = slices.DeleteFunc(found, func(w written) bool { return replaced[w.ID] })
	if len(found) == 0 || slices.ContainsFunc(found, func(w written) bool { return !w.equal(found[0].Value) }) {
		return Value{}, false
	}
	return slices.MaxFunc(found, func(a, b written) int { return a.compare(b.Origin) }).Value, true
}

// Covers reports whether every live value of the other register is live here too.
func (r *Register) Covers(other *Register) bool {
	return !slices.ContainsFunc(other.Live, func(v Value) bool { return !slices.ContainsFunc(r.Live, v.equal) })
}

// written is a value with what its write replaced.
type written struct {
	Value
	replaces []entry.ID
}

// past is everything that was ever written to a register.
type past struct {
	writes map[entry.ID]written
	// begun names, of equal values that replaced nothing, the first: scouts who
	// read one list begin with the same.
	begun map[entry.ID]entry.ID
}

func (r *Register) past(writes []Write) past {
	p := past{map[entry.ID]written{}, map[entry.ID]entry.ID{}}
	for _, w := range writes {
		origin := w.Origin
		origin.Source = w.Body.Source
		for _, c := range w.Body.Changes {
			if c.Register == r.Register { // if one entry writes it twice, the last counts
				p.writes[w.ID] = written{Value{Origin: &origin, Op: c.Op, Data: c.Value}, c.Replaces}
			}
		}
	}
	var starts []written
	for _, w := range p.writes {
		if len(w.replaces) == 0 {
			starts = append(starts, w)
		}
	}
	slices.SortFunc(starts, func(a, b written) int { return a.compare(b.Origin) })
	for i, w := range starts {
		p.begun[w.ID] = starts[slices.IndexFunc(starts[:i+1], func(one written) bool { return one.equal(w.Value) })].ID
	}
	return p
}

// first is the write that stands for an equal one.
func (p past) first(id entry.ID) entry.ID {
	if first, ok := p.begun[id]; ok {
		return first
	}
	return id
}

// behind gathers the given writes and what they replaced, directly or by way of
// others, as far as it is held and counts.
func (p past) behind(ids []entry.ID) map[entry.ID]bool {
	met := map[entry.ID]bool{}
	for next := ids; len(next) > 0; {
		id := p.first(next[len(next)-1])
		next = next[:len(next)-1]
		if w, held := p.writes[id]; held && !met[id] {
			met[id] = true
			next = append(next, w.replaces...)
		}
	}
	return met
}
