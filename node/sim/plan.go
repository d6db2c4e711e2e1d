package sim

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
)

// Plan is one run, written down: who is there, and what happens in which order.
// It follows from its seed. Steps may be left out, and the others stay what
// they were, which is how a failure is made smaller.
type Plan struct {
	Seed    uint64
	Laptops int
	// Databases says which of the first laptops keep real SQLite.
	Databases []bool
	// Long lets some values take up many thousand bytes.
	Long  bool
	Steps []Step
}

// Step is one thing that happens. All chance in it comes from its own roll.
type Step struct {
	// Number is the step's place in the plan as drawn.
	Number int
	Do     string
	Roll   uint64
}

func (s Step) dice() *dice { return newDice(s.Roll, 2) }

// dice draws; equal rolls draw the same.
type dice struct{ *rand.Rand }

func newDice(roll, stream uint64) *dice { return &dice{rand.New(rand.NewPCG(roll, stream))} }

// one reports true once in n times.
func (d *dice) one(n int) bool { return d.IntN(n) == 0 }

func pick[T any](d *dice, from []T) T { return from[d.IntN(len(from))] }

// Draw writes the plan of a seed. Most worlds are small, since small ones find
// most and can be read.
func Draw(seed uint64) Plan {
	d := newDice(seed, 1)
	p := Plan{Seed: seed, Laptops: 3, Long: d.one(8)}
	switch n := d.IntN(100); {
	case n < 2:
		p.Laptops = 13 + d.IntN(18)
	case n < 8:
		p.Laptops = 7 + d.IntN(6)
	case n < 25:
		p.Laptops = 4 + d.IntN(3)
	}
	p.Databases = make([]bool, p.Laptops)
	switch d.IntN(8) {
	case 0:
		p.Databases = slices.Repeat([]bool{true}, min(p.Laptops, 4))
	case 1, 2, 3:
		p.Databases[d.IntN(p.Laptops)] = true
	}
	bag := d.bag()
	for n := range 30 + d.IntN(90) {
		p.Steps = append(p.Steps, Step{Number: n, Do: pick(d, bag), Roll: d.Uint64()})
	}
	return p
}

// bag holds the names of the steps that may happen in a run, as often as their
// weight: the steady ones and about half of the others.
func (d *dice) bag() []string {
	var bag []string
	for _, k := range kinds {
		if k.steady || d.one(2) {
			bag = append(bag, slices.Repeat([]string{k.name}, k.weight)...)
		}
	}
	return bag
}

// Only returns the plan with the steps of these numbers, as [Plan.Kept] writes
// them, and with so many laptops (0: as drawn).
func (p Plan) Only(numbers string, laptops int) (Plan, error) {
	if laptops > 0 {
		p.Laptops = laptops
	}
	if numbers == "" {
		return p, nil
	}
	kept := map[int]bool{}
	for part := range strings.SplitSeq(numbers, ",") {
		var from, to int
		if n, err := fmt.Sscanf(part, "%d-%d", &from, &to); n < 1 {
			return p, fmt.Errorf("steps %q: %q is no number: %w", numbers, part, err)
		} else if n == 1 {
			to = from
		}
		for n := from; n <= to; n++ {
			kept[n] = true
		}
	}
	p.Steps = slices.DeleteFunc(slices.Clone(p.Steps), func(s Step) bool { return !kept[s.Number] })
	return p, nil
}

// Kept lists the numbers of the plan's steps.
func (p Plan) Kept() string {
	var parts []string
	for i := 0; i < len(p.Steps); {
		from := p.Steps[i].Number
		to := from
		for i++; i < len(p.Steps) && p.Steps[i].Number == to+1; i++ {
			to++
		}
		if from == to {
			parts = append(parts, fmt.Sprint(from))
		} else {
			parts = append(parts, fmt.Sprintf("%d-%d", from, to))
		}
	}
	return strings.Join(parts, ",")
}
