package measure

import (
	"fmt"
	"math"
	"math/big"
	"strconv"
	"strings"
)

// Format writes an amount in the trade's notation, such that [Parse] reads the
// same amount back. An arm of 268 eighths is 334.
func Format(what What, amount int64) string {
	inch, eighth := amount/8, amount%8
	switch what {
	case Height:
		return fmt.Sprintf("%d%02d%d", inch/12, inch%12, eighth)
	case Arm, Hand, Wingspan:
		return fmt.Sprintf("%02d%d", inch, eighth)
	case Vertical:
		return fraction(inch, eighth)
	case BroadJump:
		return fmt.Sprintf("%d'%s\"", inch/12, fraction(inch%12, eighth))
	}
	switch what.Unit() {
	case TenthPound:
		return strings.TrimSuffix(fmt.Sprintf("%d.%d", amount/10, amount%10), ".0")
	case Millisecond:
		if amount%10 == 0 {
			return fmt.Sprintf("%d.%02d", amount/1000, amount%1000/10)
		}
		return fmt.Sprintf("%d.%03d", amount/1000, amount%1000)
	}
	return strconv.FormatInt(amount, 10)
}

// Spell writes an amount for those who don't read the notation: 6'4 3/4".
func Spell(what What, amount int64) string {
	inch, eighth := amount/8, amount%8
	switch what {
	case Height:
		return fmt.Sprintf("%d'%s\"", inch/12, fraction(inch%12, eighth))
	case Arm, Hand, Wingspan, Vertical:
		return fraction(inch, eighth) + `"`
	}
	switch what.Unit() {
	case TenthPound:
		return Format(what, amount) + " lb"
	case Millisecond:
		return Format(what, amount) + " s"
	case Repetition:
		return Format(what, amount) + " reps"
	}
	return Format(what, amount)
}

// Number gives an amount as the number that people write in a comparison:
// height 6046, arm 332, weight 305.5, forty 4.98, vertical and broad jump in
// inches. It grows with the amount, so comparisons hold; differences don't, as
// the notation counts feet, inches and eighths in one number.
func Number(what What, amount int64) float64 {
	inch, eighth := amount/8, amount%8
	switch what {
	case Height:
		return float64(inch/12*1000 + inch%12*10 + eighth)
	case Arm, Hand, Wingspan:
		return float64(inch*10 + eighth)
	case Vertical, BroadJump:
		return float64(amount) / 8
	}
	switch what.Unit() {
	case TenthPound:
		return float64(amount) / 10
	case Millisecond:
		return float64(amount) / 1000
	}
	return float64(amount)
}

// OfNumber is the inverse of [Number].
func OfNumber(what What, number float64) int64 {
	written := int64(math.Round(number))
	switch what {
	case Height:
		return (written/1000*12+written%1000/10)*8 + written%10
	case Arm, Hand, Wingspan:
		return written/10*8 + written%10
	case Vertical, BroadJump:
		return int64(math.Round(number * 8))
	}
	switch what.Unit() {
	case TenthPound:
		return int64(math.Round(number * 10))
	case Millisecond:
		return int64(math.Round(number * 1000))
	}
	return written
}

func fraction(inch, eighth int64) string {
	if eighth == 0 {
		return strconv.FormatInt(inch, 10)
	}
	return fmt.Sprintf("%d %s", inch, big.NewRat(eighth, 8))
}
