package measure

import (
	"fmt"
	"math/big"
)

// parseDigits reads the notation without marks and returns eighths of an inch.
func parseDigits(what What, s spec, text string) (*big.Rat, *Error) {
	switch what {
	case Height:
		return heightDigits(s, text)
	case Vertical:
		return jumpDigits(what, s, text, 2)
	case BroadJump:
		return jumpDigits(what, s, text, 3)
	}
	switch len(text) {
	case 2:
		return inchDigits("0"+text, s)
	case 3:
		return inchDigits(text, s)
	case 4:
		return spelledDigits(text, s)
	}
	return nil, problem(Digits, "%s has %s; two digits of inches and one of eighths are wanted: type %s", text, digits(len(text)), s.meant(what, text))
}

// heightDigits reads feet, two digits of inches, one of eighths.
func heightDigits(s spec, text string) (*big.Rat, *Error) {
	if len(text) != 4 {
		return nil, problem(Digits, "%s has %s, and a height has four: one of feet, two of inches, one of eighths: type %s", text, digits(len(text)), s.meant(Height, text))
	}
	feet, inch, eighth := int(text[0]-'0'), number(text[1:3]), int(text[3]-'0')
	if inch > 11 {
		return nil, problem(InchesAbove11, "the second and third digit are inches and say %d; a foot has 12, so they go from 00 to 11", inch)
	}
	if eighth > 7 {
		return nil, problem(EighthsAbove7, "the last digit counts eighths of an inch and says %d; it goes from 0 to 7", eighth)
	}
	return big.NewRat(int64((feet*12+inch)*8+eighth), 1), nil
}

// inchDigits reads two digits of inches, one of eighths.
func inchDigits(text string, s spec) (*big.Rat, *Error) {
	inch, eighth := number(text[:2]), int(text[2]-'0')
	if eighth > 7 {
		return nil, problem(EighthsAbove7, "the last digit counts eighths of an inch and says %d; it goes from 0 to 7: type %s", eighth, s.example)
	}
	return big.NewRat(int64(inch*8+eighth), 1), nil
}

// spelledDigits reads two digits of inches and a fraction spelled in two more.
// Only eighths are sure: 3312 may be one half or twelve of something.
func spelledDigits(text string, s spec) (*big.Rat, *Error) {
	if text[3] != '8' {
		return nil, problem(TwoReadings, "does %s mean %s %c/%c? Type the inches and one digit of eighths, or the fraction with a slash: %s",
			text[2:], text[:2], text[2], text[3], s.example)
	}
	return inchDigits(text[:3], s)
}

// jumpDigits reads whole inches. More digits would be inches with eighths to
// one staff, with tenths to another, and feet with inches to a third.
func jumpDigits(what What, s spec, text string, most int) (*big.Rat, *Error) {
	if len(text) > most {
		return nil, problem(TwoReadings, "%s can be read in several ways; type %s", text, s.meant(what, text))
	}
	return big.NewRat(int64(number(text)*8), 1), nil
}

func digits(n int) string {
	if n == 1 {
		return "1 digit"
	}
	return fmt.Sprintf("%d digits", n)
}

// number reads at most three digits.
func number(text string) int {
	n := 0
	for _, d := range text {
		n = n*10 + int(d-'0')
	}
	return n
}
