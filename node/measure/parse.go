package measure

import (
	"math/big"
	"strings"
)

// Reading is what was typed, as an amount of the measure's unit.
type Reading struct {
	What   What
	Amount int64
	Unit   Unit
	// Rounded is set when what was typed isn't a whole number of the unit.
	Rounded bool
	// Typed is what the person typed, as it was.
	Typed string
}

// Parse reads what a person typed for a measure. Its errors are of type *Error.
func Parse(what What, typed string) (Reading, error) {
	s, ok := specs[what]
	if !ok {
		return Reading{}, &Error{what, typed, UnknownMeasure, "no such measure"}
	}
	text := tidy(typed)
	exact, problem := parseTidy(what, s, text)
	if problem != nil {
		problem.What, problem.Typed = what, typed
		return Reading{}, problem
	}
	amount, rounded := nearest(exact)
	if amount < s.min || amount > s.max {
		return Reading{}, &Error{what, typed, Impossible, "that reads as " + Spell(what, amount) +
			", which no player measures (" + Spell(what, s.min) + " to " + Spell(what, s.max) + "); type " + s.meant(what, text)}
	}
	return Reading{What: what, Amount: amount, Unit: s.unit, Rounded: rounded, Typed: typed}, nil
}

func parseTidy(what What, s spec, text string) (*big.Rat, *Error) {
	if text == "" {
		return nil, problem(Empty, "nothing typed; type %s", s.example)
	}
	switch s.unit {
	case EighthInch:
		return parseLength(what, s, text)
	case TenthPound:
		return parseWeight(s, text)
	case Millisecond:
		return parseTime(s, text)
	default:
		return parseCount(s, text)
	}
}

// tidy makes one form of what keyboards, documents and tables make of a length:
// typographic quotes and dashes, fractions in one character, capitals, spaces.
func tidy(typed string) string {
	return strings.Join(strings.Fields(strings.ToLower(typography.Replace(typed))), " ")
}

var typography = strings.NewReplacer(
	"’", "'", "‘", "'", "′", "'", "`", "'",
	"”", `"`, "“", `"`, "″", `"`, "''", `"`,
	"–", "-", "—", "-", "‑", "-", "−", "-",
	"\u00a0", " ", "\u202f", " ", "⁄", "/",
	"½", " 1/2", "¼", " 1/4", "¾", " 3/4",
	"⅛", " 1/8", "⅜", " 3/8", "⅝", " 5/8", "⅞", " 7/8",
)

// nearest rounds to a whole number, halves upwards. The patterns bound the
// digits, so it always fits.
func nearest(r *big.Rat) (amount int64, rounded bool) {
	if r.IsInt() {
		return r.Num().Int64(), false
	}
	up := new(big.Rat).Add(r, big.NewRat(1, 2))
	return new(big.Int).Div(up.Num(), up.Denom()).Int64(), true
}
