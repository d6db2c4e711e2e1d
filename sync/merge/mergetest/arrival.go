package mergetest

import (
	"slices"

	"pgregory.net/rapid"
)

// Arrival draws facts in an order in which they could arrive at a laptop:
// whatever lies before one in its log comes first.
func (h *History) Arrival(facts []*Fact, label string) (order []*Fact) {
	seen := map[*Fact]bool{}
	var take func(*Fact)
	take = func(f *Fact) {
		if f != nil && !seen[f] {
			take(f.Prev)
			seen[f] = true
			order = append(order, f)
		}
	}
	numbers := make([]int, len(facts))
	for i := range numbers {
		numbers[i] = i
	}
	for _, i := range rapid.Permutation(numbers).Draw(h.t, label) {
		take(facts[i])
	}
	return order
}

// Part draws what a laptop holds that hasn't heard everything. Heads of cuts are
// missing more often than the rest: what is decided waits for them.
func (h *History) Part(label string) []*Fact {
	heads := h.That(func(f *Fact) bool {
		return slices.ContainsFunc(h.Cuts, func(cut *Fact) bool { return slices.Contains(cut.Says.Cut.Heads, f.ID) })
	})
	return Without(h.Facts, Some(h.t, label, slices.Concat(h.Facts, heads), 4)...)
}
