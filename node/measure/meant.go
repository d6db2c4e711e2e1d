package measure

import (
	"cmp"
	"math/big"
	"slices"
	"strings"
)

// meant says how to type what digits that are no length of the notation may stand for:
// 32 of an arm is 320, in whole inches. It gives all that a player may measure, or the
// example where there is nothing.
func (s spec) meant(what What, text string) string {
	if s.unit != EighthInch {
		return s.example
	}
	var ways []string
	for _, amount := range lengthsIn(what, text) {
		way := Format(what, amount)
		if spelled := Spell(what, amount); strings.TrimSuffix(spelled, `"`) != strings.TrimSuffix(way, `"`) {
			way += " for " + spelled
		}
		if what.Holds(s.unit, amount) && !slices.Contains(ways, way) {
			ways = append(ways, way)
		}
	}
	return cmp.Or(strings.Join(ways, " or "), s.example)
}

// lengthsIn are the lengths, in eighths of an inch, that some staff or other writes
// with these digits: whole inches, feet with inches, inches with eighths or tenths
// (common practice, no source).
func lengthsIn(what What, text string) []int64 {
	if m := inches.FindStringSubmatch(text); !onlyDigits.MatchString(text) {
		if m == nil || m[2] != "" || m[4] != "" {
			return nil
		}
		amount, _ := nearest(new(big.Rat).Mul(decimal(m[1]), big.NewRat(8, 1)))
		return []int64{amount}
	}
	if len(text) > 4 {
		return nil
	}
	all := feetIn(what, text)
	if len(text) <= 3 {
		all = append([]int64{int64(number(text)) * 8}, all...)
	}
	if what == Vertical && len(text) == 3 {
		tenths, _ := nearest(big.NewRat(int64(number(text))*8, 10))
		all = append(all, int64(number(text[:2])*8+int(text[2]-'0')), tenths)
	}
	return all
}

// feetIn reads the digits as feet, then inches.
func feetIn(what What, text string) []int64 {
	feet, rest := text[:1], text[1:]
	if what == BroadJump && len(text) == 4 {
		feet, rest = text[:2], text[2:]
	}
	if what != Height && what != BroadJump {
		return nil
	}
	inch := number(rest)
	if len(rest) > 2 || inch > 11 {
		return nil
	}
	return []int64{int64(number(feet)*12+inch) * 8}
}
