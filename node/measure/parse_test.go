package measure

import (
	"errors"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// The readings are common practice, no source; metric ones follow from the inch
// of 2.54 cm and the pound of 0.45359237 kg (international yard and pound
// agreement, 1959).
func TestParse(t *testing.T) {
	for _, c := range []struct {
		what    What
		typed   string
		amount  int64
		rounded bool
		written string
	}{
		{Arm, "334", 268, false, "334"},
		{Arm, "33½", 268, false, "334"},
		{Arm, " 33 1/2 ″ ", 268, false, "334"},
		{Arm, "33-1/4", 266, false, "332"},
		{Arm, "33.3", 266, true, "332"},
		{Arm, "33 5/16", 267, true, "333"},
		{Hand, "9-7/8", 79, false, "097"},
		{Hand, "24.13 cm", 76, false, "094"},
		{Height, "6’ 4 ¾”", 614, false, "6046"},
		{Height, "6–4", 608, false, "6040"},
		{Height, "6 feet", 576, false, "6000"},
		{Height, "76.75 in", 614, false, "6046"},
		{Height, "1.905 m", 600, false, "6030"},
		{Height, "1905 mm", 600, false, "6030"},
		{Wingspan, "2 m", 630, true, "786"},
		{Weight, "305", 3050, false, "305"},
		{Weight, "305.5 lbs", 3055, false, "305.5"},
		{Weight, "138.3 kg", 3049, true, "304.9"},
		{Weight, "45.359237 kg", 1000, false, "100"},
		{Forty, "4.98", 4980, false, "4.98"},
		{Forty, "4.987 s", 4987, false, "4.987"},
		{ThreeCone, "7.5", 7500, false, "7.50"},
		{Vertical, "31.5", 252, false, "31 1/2"},
		{Vertical, `31 1/2"`, 252, false, "31 1/2"},
		{Vertical, "31", 248, false, "31"},
		{BroadJump, `9'4"`, 896, false, `9'4"`},
		{BroadJump, "112", 896, false, `9'4"`},
		{BroadJump, `10'2 1/2"`, 980, false, `10'2 1/2"`},
		{Bench, "27", 27, false, "27"},
		{Bench, "27 reps", 27, false, "27"},
	} {
		got, err := Parse(c.what, c.typed)
		if err != nil {
			t.Error(err)
			continue
		}
		if got.Amount != c.amount || got.Rounded != c.rounded || Format(c.what, got.Amount) != c.written {
			t.Errorf("%s %q: got %d, rounded %t, written %s; want %d, %t, %s", c.what, c.typed,
				got.Amount, got.Rounded, Format(c.what, got.Amount), c.amount, c.rounded, c.written)
		}
		if got.Typed != c.typed {
			t.Errorf("%s %q: kept as typed %q", c.what, c.typed, got.Typed)
		}
	}
}

// What can't be read, or can be read in two ways, is asked about: common
// practice, no source.
func TestParseRefuses(t *testing.T) {
	for _, c := range []struct {
		what  What
		typed string
		want  Problem
		says  string
	}{
		{Arm, "3312", TwoReadings, "33 1/2?"},
		{Arm, "3334", TwoReadings, "33 3/4?"},
		{Arm, "33", Impossible, `3 3/8"`},
		{Arm, "3", Digits, "3 has 1 digit;"},
		// What fits is named where it is clear: 32 in are written 320, and so on.
		{Arm, "32", Impossible, `type 320 for 32"`},
		{Arm, "5", Digits, "type 332 or 33 1/4"},
		{Hand, "10", Impossible, `type 100 for 10"`},
		{Hand, "9", Digits, `type 090 for 9"`},
		{Wingspan, "80", Impossible, `type 800 for 80"`},
		{Height, "6", Digits, `type 6000 for 6'0"`},
		{Height, "72", Digits, `type 6000 for 6'0" or 7020 for 7'2"`},
		{Height, "64", Digits, `type 5040 for 5'4" or 6040 for 6'4"`},
		{Height, "604", Digits, `type 6040 for 6'4"`},
		{Height, "76.5", TwoReadings, `Type 6044 for 6'4 1/2", or add in`},
		{Height, "30", Digits, "type 6046 or"},
		{Vertical, "315", TwoReadings, "type 31 5/8 or 31 1/2"},
		{BroadJump, "904", Impossible, `type 9'4"`},
		{BroadJump, "1002", TwoReadings, `type 10'2"`},
		{Arm, "33 1/3", OddFraction, "1/3"},
		{Arm, "33 9/8", OddFraction, "whole inches"},
		{Arm, "33.5 1/2", OddFraction, "whole inches"},
		{Arm, "84,455 cm", NotALength, "332"},
		{Height, "6.4", TwoReadings, "feet or inches"},
		{Height, "6'12\"", InchesAbove11, "0 to 11"},
		{Height, "6-12", InchesAbove11, "0 to 11"},
		{Height, "60460", Digits, "60460 has 5 digits"},
		{Height, "9046", Impossible, `7'11 7/8"`},
		{Wingspan, "6'8 3/3\"", OddFraction, "3/3"},
		{Weight, "heavy", NotAWeight, "kg"},
		{Weight, "30", Impossible, "80 lb"},
		{Weight, "700", Impossible, "type 305 or"},
		{Forty, "5", TwoReadings, "decimals"},
		{Forty, "498", NotATime, "seconds"},
		{Forty, "4.9871", TooFine, "thousandths"},
		{Forty, "1.72", Impossible, "3.50 s"},
		{Vertical, "315", TwoReadings, "several ways"},
		{BroadJump, "1002", TwoReadings, "several ways"},
		{Bench, "27.5", NotACount, "whole number"},
		{Bench, "", Empty, "27"},
		{What(99), "1", UnknownMeasure, "no such measure"},
	} {
		got, err := Parse(c.what, c.typed)
		var problem *Error
		if !errors.As(err, &problem) || problem.Problem != c.want {
			t.Errorf("%s %q: got %+v, %v; want problem %s", c.what, c.typed, got, err, c.want)
			continue
		}
		if !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s %q: error %q doesn't say %q", c.what, c.typed, err, c.says)
		}
	}
}

// What is written is read back as the same amount, and Number grows with it.
func TestFormatInvertsParse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		what := rapid.SampledFrom(All()).Draw(t, "what")
		s := specs[what]
		amount := rapid.Int64Range(s.min, s.max).Draw(t, "amount")
		got, err := Parse(what, Format(what, amount))
		if err != nil {
			t.Fatal(err)
		}
		if got.Amount != amount || got.Rounded {
			t.Fatalf("%s %d is written %s and read as %+v", what, amount, Format(what, amount), got)
		}
		if amount > s.min && Number(what, amount-1) >= Number(what, amount) {
			t.Fatalf("%s: number %v at %d, %v at %d", what, Number(what, amount-1), amount-1, Number(what, amount), amount)
		}
	})
}

// Whatever is typed, the answer is an amount within the limits or a problem.
func TestParseAnything(t *testing.T) {
	piece := rapid.SampledFrom([]string{"6", "4", "0", "33", "3328", "'", `"`, "-", " ", ".", "/", "1/2", "½", "ft", "in", "cm", "kg", "x", "é"})
	rapid.Check(t, func(t *rapid.T) {
		what := rapid.SampledFrom(All()).Draw(t, "what")
		typed := strings.Join(rapid.SliceOfN(piece, 0, 8).Draw(t, "pieces"), "")
		got, err := Parse(what, typed)
		var problem *Error
		switch {
		case err != nil && !errors.As(err, &problem):
			t.Fatalf("error %v of another type", err)
		case err == nil && (got.Amount < specs[what].min || got.Amount > specs[what].max):
			t.Fatalf("%q reads as %d %s", typed, got.Amount, got.Unit)
		}
	})
}

func TestOfNumberIsTheInverseOfNumber(t *testing.T) {
	for _, what := range All() {
		for amount := specs[what].min; amount <= specs[what].max; amount++ {
			if got := OfNumber(what, Number(what, amount)); got != amount {
				t.Fatalf("%s %d: %v came back as %d", what, amount, Number(what, amount), got)
			}
		}
	}
}
