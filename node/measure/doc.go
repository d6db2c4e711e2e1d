// Package measure reads and writes the trade's notation of lengths, weights,
// times and counts: height 6046 is 6 ft 4 6/8 in, arm 332 is 33 2/8 in.
//
// Start at [Parse]; [Format] is its inverse. Amounts are whole numbers of one
// unit per measure and are never rounded twice: metric input goes through
// rational arithmetic and says when it was rounded.
//
// The package refuses to guess. What can be read in two ways, or can't be a
// human being's measure, is an error that says what to type instead. It knows
// nothing of sources, dates or records.
package measure
