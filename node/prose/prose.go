// Package prose puts texts together that people edited apart, word by word.
// Start with Merge; Compare is for texts that come from nothing in common.
//
// It decides nothing: a place that one person changed, or that all who changed it
// changed alike, is merged; a place that two changed differently is marked, with
// what each says there, and left to a person. The same texts give the same parts
// on every laptop.
package prose

import (
	"slices"
	"strings"
)

// Part is a stretch of the merged text. The parts in their order make up each of
// the texts, and the ancestor.
type Part struct {
	// Before is what the ancestor says here.
	Before string
	// Versions is what each of the texts says here, in their order; none where
	// all say what the ancestor says.
	Versions []string
	// Text is what the merged text says here; empty in an overlap.
	Text string
	// Overlap is set where texts were changed differently: a person chooses.
	Overlap bool
}

// Merge puts texts together that have an ancestor in common.
func Merge(ancestor string, texts []string) []Part {
	return parts(ancestor, texts, several, func(before string, versions []string) Part {
		part := Part{Before: before, Versions: versions}
		changed := slices.DeleteFunc(slices.Clone(versions), func(v string) bool { return v == before })
		if part.Overlap = slices.ContainsFunc(changed, func(v string) bool { return v != changed[0] }); !part.Overlap {
			part.Text = changed[0]
		}
		return part
	})
}

// Compare sets texts beside each other of which nobody knows what they were
// before: every place where they differ is an overlap, with nothing before.
func Compare(texts []string) []Part {
	return parts(texts[0], texts, all, func(_ string, versions []string) Part {
		return Part{Versions: versions, Overlap: true}
	})
}

// parts cuts the base where any of the texts differs from it, and lets judge make
// a part of what stands there and what the texts say instead. Places that are to
// be chosen take the signs along that follow, so that a sentence ends with its own.
func parts(base string, texts []string, toChoose func(place) bool, judge func(before string, versions []string) Part) []Part {
	have := tokens(base)
	sides := make([][]change, len(texts))
	for i, text := range texts {
		sides[i] = changes(have, tokens(text))
	}
	var made []Part
	alike := func(from, to int) {
		if from < to {
			text := strings.Join(have[from:to], "")
			made = append(made, Part{Before: text, Text: text})
		}
	}
	at := 0
	for _, p := range places(have, sides) {
		if toChoose(p) {
			p = p.withSigns(have)
		}
		alike(at, p.from)
		at = p.to
		versions := make([]string, len(sides))
		for i, side := range sides {
			versions[i] = p.says(have, side)
		}
		made = append(made, judge(strings.Join(have[p.from:p.to], ""), versions))
	}
	alike(at, len(have))
	return made
}
