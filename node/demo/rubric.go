package demo

import (
	"slices"
	"strings"
)

// rubric is what the director types to say which factors are graded, for whom, and
// what the grades mean.
func rubric() []Edit {
	var edits []Edit
	for _, factor := range allFactors() {
		sets := []Set{{"name", factor}}
		if graded := gradedAt(factor); len(graded) > 0 {
			sets = append(sets, Set{"positions", strings.Join(graded, ", ")})
		}
		edits = append(edits, Edit{Kind: "factor", Sets: append(sets, meaning(factor)...)})
	}
	return edits
}

// gradedAt names the positions that a factor belongs to; none for a core factor.
func gradedAt(factor string) []string {
	var at []string
	for _, position := range lineup {
		if slices.Contains(positionFactors[position], factor) && !slices.Contains(at, position) {
			at = append(at, position)
		}
	}
	return at
}

// meanings are of the factors that the director has thought about most.
var meanings = map[string][]Set{
	"hand_use": {
		{"help", "Timing and place of the punch, and what follows it."},
		{"anchors.3", "Late or wide more often than not."}, {"anchors.5", "On time against power, late against speed."},
		{"anchors.7", "On time, inside, resets when he loses the fit."},
	},
	"anchor": {
		{"help", "First contact with power, and the second effort."},
		{"anchors.3", "Walked back."}, {"anchors.5", "Gives two steps, then holds."}, {"anchors.7", "Stops it at first contact."},
	},
	"finish": {
		{"help", "What he does when the play could be over."},
		{"anchors.3", "Watches."}, {"anchors.5", "Plays to the whistle."}, {"anchors.7", "Looks for one more man."},
	},
}

// meaning gives a factor's anchors: at least the words for far down and far up.
func meaning(factor string) []Set {
	if sets, ok := meanings[factor]; ok {
		return sets
	}
	var sets []Set
	if words, ok := doubt[factor]; ok {
		sets = append(sets, Set{"anchors.3", words + "."})
	}
	if words, ok := praise[factor]; ok {
		sets = append(sets, Set{"anchors.7", words + "."})
	}
	return sets
}
