// Package query reads and evaluates the expressions by which people pick records:
// position == "tackle" && arm >= 332. The language is CEL, the Common Expression
// Language.
//
// Start at [Compile], then [Program.Match]. Where this package differs from plain
// CEL, it is for records, of which most fields may be missing: the smallest yes-
// or-no expression around something missing is false (missing.go), and whole numbers
// meet decimals at every operator (numbers.go).
//
// The package refuses to load records, to write, and to run without bounds.
package query
