// Package merge turns a set of entries into state: what each laptop may write
// ([Judge]), what each record holds ([Record]), which records are hidden
// ([Record.Visibility]) and which are one ([Groups]).
//
// Every result is a function of the set of entries alone. The order in which
// they arrived, how they were batched and what any clock said change nothing.
// The package does no I/O, knows no schema and refuses to pick a winner: of
// several values that nobody replaced it keeps all, and only says which one to
// show first.
//
// A register is a multi-value register as in Shapiro, Preguiça, Baquero and
// Zawirski, "A comprehensive study of Convergent and Commutative Replicated
// Data Types", INRIA RR-7506 (2011), section 3.2.2, with the difference that a
// write names the values it replaces instead of carrying a version vector: an
// author replaces what they saw, not everything their laptop happened to hold.
package merge
