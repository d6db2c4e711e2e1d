// Package demo invents a world to try the program on: a staff, a class of
// prospects, games, reps with a plausible structure, graders who are hard or
// easy, and what each of them edits by hand while offline. Everything in it is
// invented, names and numbers alike.
//
// Start at [New]; [World.Tables] gives what each person would import and
// [World.Edits] what each types. The same seed and size give the same bytes.
//
// It refuses to write to a node itself, and nothing but trials, tests and
// benchmarks may rest on it.
package demo
