package sim

import (
	"fmt"
	"slices"
	"strings"
)

// shrinkRuns bounds how often a plan is tried when it is made smaller.
const shrinkRuns = 400

// Shrink leaves out steps and laptops as long as the plan still fails in the same
// way, and returns the smallest plan that it found.
func Shrink(p Plan, o Options) (Plan, *Failure) {
	s := shrinking{options: o, best: p, failure: Run(p, o).Failure}
	if s.failure == nil {
		return p, nil
	}
	for size := len(p.Steps) / 2; size > 0; size /= 2 {
		for from := 0; from < len(s.best.Steps); {
			smaller := s.best
			smaller.Steps = slices.Delete(slices.Clone(s.best.Steps), from, min(from+size, len(s.best.Steps)))
			if !s.try(smaller) {
				from += size
			}
		}
	}
	for s.best.Laptops > 2 {
		smaller := s.best
		smaller.Laptops--
		if !s.try(smaller) {
			break
		}
	}
	return s.best, s.failure
}

type shrinking struct {
	options Options
	best    Plan
	failure *Failure
	runs    int
}

func (s *shrinking) try(p Plan) bool {
	if s.runs++; s.runs > shrinkRuns {
		return false
	}
	f := Run(p, s.options).Failure
	if f == nil || f.sort() != s.failure.sort() {
		return false
	}
	s.best, s.failure = p, f
	return true
}

// sort is the text of a failure without what names laptops and entries in it: two
// of one sort have the same cause, most likely.
func (f *Failure) sort() string {
	first, _, _ := strings.Cut(f.What, "\n")
	words := strings.FieldsFunc(first, func(r rune) bool { return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z') })
	return strings.Join(slices.DeleteFunc(words, func(w string) bool { return len(w) > 20 }), " ")
}

// Command runs the plan again.
func (p Plan) Command() string {
	return fmt.Sprintf("go test ./node/sim -run Seeds -sim.first=%d -sim.seeds=1 -sim.laptops=%d -sim.steps=%s -v", p.Seed, p.Laptops, p.Kept())
}
