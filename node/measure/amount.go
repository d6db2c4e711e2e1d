package measure

import (
	"math/big"
	"regexp"
)

var (
	weightShape = regexp.MustCompile(`^(\d{1,4}(?:\.\d{1,6})?) ?(lbs?\.?|pounds?|kg)?$`)
	timeShape   = regexp.MustCompile(`^(\d{1,2})(\.\d+)? ?(?:s|sec|seconds)?$`)
	countShape  = regexp.MustCompile(`^(\d{1,3})(?: ?(?:x|reps?))?$`)
)

// tenthPoundsPerKilogram is 10/0.45359237: a pound is 0.45359237 kg exactly
// (international yard and pound agreement, 1959).
var tenthPoundsPerKilogram = big.NewRat(1_000_000_000, 45359237)

// parseWeight returns tenths of a pound.
func parseWeight(s spec, text string) (*big.Rat, *Error) {
	m := weightShape.FindStringSubmatch(text)
	if m == nil {
		return nil, problem(NotAWeight, "no weight; type pounds, or kilograms with kg: %s", s.example)
	}
	if m[2] == "kg" {
		return new(big.Rat).Mul(decimal(m[1]), tenthPoundsPerKilogram), nil
	}
	return new(big.Rat).Mul(decimal(m[1]), big.NewRat(10, 1)), nil
}

// parseTime returns milliseconds.
func parseTime(s spec, text string) (*big.Rat, *Error) {
	m := timeShape.FindStringSubmatch(text)
	if m == nil {
		return nil, problem(NotATime, "no time; type seconds with two or three decimals: %s", s.example)
	}
	if m[2] == "" {
		return nil, problem(TwoReadings, "seconds without decimals are no measured time; type %s", s.example)
	}
	if len(m[2]) > 4 {
		return nil, problem(TooFine, "more than thousandths of a second; type two or three decimals: %s", s.example)
	}
	return new(big.Rat).Mul(decimal(m[1]+m[2]), big.NewRat(1000, 1)), nil
}

// parseCount returns repetitions.
func parseCount(s spec, text string) (*big.Rat, *Error) {
	m := countShape.FindStringSubmatch(text)
	if m == nil {
		return nil, problem(NotACount, "no count of repetitions; type a whole number: %s", s.example)
	}
	return decimal(m[1]), nil
}
