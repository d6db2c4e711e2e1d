package measure

import "fmt"

// Problem is why something typed is no measure. The names up to NotALength are
// those of the reference cases.
type Problem string

// The problems.
const (
	Empty          Problem = "empty"
	Digits         Problem = "digits"          // too many or too few digits
	EighthsAbove7  Problem = "eighths_above_7" // the digit of eighths is 8 or 9
	InchesAbove11  Problem = "inches_above_11" // inches beside feet are 12 or more
	NotALength     Problem = "not_a_length"    // no length in any notation
	NotAWeight     Problem = "not_a_weight"    // no weight in any notation
	NotATime       Problem = "not_a_time"      // no time in any notation
	NotACount      Problem = "not_a_count"     // no count of repetitions
	TwoReadings    Problem = "two_readings"    // can be read in two ways
	Impossible     Problem = "impossible"      // read, but no player's
	OddFraction    Problem = "odd_fraction"    // not a fraction of a tape measure
	UnknownMeasure Problem = "unknown_measure" // no such measure
	TooFine        Problem = "too_fine"        // more digits than can be measured
)

// Error says what was typed for what, what is wrong and what to type instead.
type Error struct {
	What    What
	Typed   string
	Problem Problem
	// Advice is one sentence: what is wrong and what to type instead.
	Advice string
}

func (e *Error) Error() string {
	return fmt.Sprintf("%s %q: %s", e.What, e.Typed, e.Advice)
}

// problem makes an error without What and Typed, which [Parse] fills in.
func problem(p Problem, format string, args ...any) *Error {
	return &Error{Problem: p, Advice: fmt.Sprintf(format, args...)}
}
