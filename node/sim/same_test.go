package sim

import (
	"slices"
	"strings"
	"testing"
)

// A seed that printed once is worth nothing if it doesn't do the same again.
func TestARunRepeatsItself(t *testing.T) {
	folder := fastFolder(t)
	for seed := range uint64(40) {
		first, second := Run(Draw(seed), Options{Folder: folder}), Run(Draw(seed), Options{Folder: folder})
		if first.Trace != second.Trace || first.Entries != second.Entries {
			t.Errorf("seed %d: two runs differ", seed)
		}
	}
}

// Laptops whose clocks are wrong by decades, each time differently, come to the
// same, but for the times that they show.
func TestClocksChangeNothing(t *testing.T) {
	folder := fastFolder(t)
	turned := 0
	for seed := range uint64(60) {
		right := Run(Draw(seed), Options{Folder: folder, Outcome: true})
		wrong := Run(Draw(seed), Options{Folder: folder, Outcome: true, Clocks: 7})
		if right.Failure != nil || wrong.Failure != nil {
			t.Errorf("seed %d: %v, %v", seed, right.Failure, wrong.Failure)
		}
		if right.Trace != wrong.Trace {
			turned++
		}
		if a, b := strings.Split(right.Outcome, "\n"), strings.Split(wrong.Outcome, "\n"); !slices.Equal(a, b) {
			t.Errorf("seed %d: only with one set of clocks\n%s\nonly with the other\n%s", seed,
				strings.Join(without(a, b), "\n"), strings.Join(without(b, a), "\n"))
		}
	}
	if turned < 10 {
		t.Errorf("clocks were wrong in %d of 60 seeds", turned)
	}
}
