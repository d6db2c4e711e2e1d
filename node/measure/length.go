package measure

import (
	"math/big"
	"regexp"
)

var (
	onlyDigits = regexp.MustCompile(`^\d+$`)
	metric     = regexp.MustCompile(`^(\d{1,5}(?:\.\d{1,6})?) ?(mm|cm|m)$`)
	// Behind a dash there are whole inches: 9-7/8 is no nine feet.
	feetDash   = regexp.MustCompile(`^(\d)-(\d{1,2}(?:\.\d{1,6})?)(?: (\d{1,2})/(\d{1,2}))? ?(?:"|in|inch|inches)?$`)
	feetMarked = regexp.MustCompile(`^(\d{1,2}) ?(?:'|ft\.?|feet|foot) ?(?:(\d{1,2}(?:\.\d{1,6})?)?(?:(?: |-|\b)(\d{1,2})/(\d{1,2}))? ?(?:"|in|inch|inches)?)?$`)
	inches     = regexp.MustCompile(`^(\d{1,3}(?:\.\d{1,6})?)(?:(?: |-)(\d{1,2})/(\d{1,2}))? ?("|in|inch|inches)?$`)
)

// eighthInchesPerMillimetre is 8/25.4: an inch is 25.4 mm exactly
// (international yard and pound agreement, 1959).
var eighthInchesPerMillimetre = big.NewRat(80, 254)

// parseLength returns eighths of an inch.
func parseLength(what What, s spec, text string) (*big.Rat, *Error) {
	if onlyDigits.MatchString(text) {
		return parseDigits(what, s, text)
	}
	if m := metric.FindStringSubmatch(text); m != nil {
		scale := map[string]int64{"mm": 1, "cm": 10, "m": 1000}[m[2]]
		mm := new(big.Rat).Mul(decimal(m[1]), big.NewRat(scale, 1))
		return mm.Mul(mm, eighthInchesPerMillimetre), nil
	}
	for _, shape := range []*regexp.Regexp{feetDash, feetMarked} {
		if m := shape.FindStringSubmatch(text); m != nil {
			return feetAndInches(m[1], m[2], m[3], m[4])
		}
	}
	if m := inches.FindStringSubmatch(text); m != nil {
		if what == Height && m[4] == "" {
			return nil, problem(TwoReadings, "feet or inches? Type %s, or add in", s.meant(what, text))
		}
		return inchesOf(m[1], m[2], m[3])
	}
	return nil, problem(NotALength, "no length; type %s", s.example)
}

func feetAndInches(feet, whole, num, den string) (*big.Rat, *Error) {
	rest, err := inchesOf(whole, num, den)
	if err != nil {
		return nil, err
	}
	if rest.Cmp(big.NewRat(12*8, 1)) >= 0 {
		return nil, problem(InchesAbove11, "a foot has 12 inches, so the inches beside feet are 0 to 11")
	}
	eighths := new(big.Rat).Mul(decimal(feet), big.NewRat(12*8, 1))
	return eighths.Add(eighths, rest), nil
}

// inchesOf returns eighths; each part may be empty.
func inchesOf(whole, num, den string) (*big.Rat, *Error) {
	total := new(big.Rat)
	if whole != "" {
		total.Set(decimal(whole))
	}
	if num != "" {
		switch den {
		case "2", "4", "8", "16", "32", "64":
		default:
			return nil, problem(OddFraction, "fractions of an inch are halves, quarters, eighths or finer halves, not %s/%s", num, den)
		}
		part := new(big.Rat).Quo(decimal(num), decimal(den))
		if part.Cmp(big.NewRat(1, 1)) >= 0 || !total.IsInt() {
			return nil, problem(OddFraction, "%s/%s is no part of an inch beside %s; write the whole inches in front", num, den, whole)
		}
		total.Add(total, part)
	}
	return total.Mul(total, big.NewRat(8, 1)), nil
}

// decimal reads what a pattern has already matched as a number.
func decimal(text string) *big.Rat {
	r, ok := new(big.Rat).SetString(text)
	if !ok {
		panic("measure: a pattern let through " + text)
	}
	return r
}
