package measure

import (
	"fmt"
	"slices"
	"strings"
)

// What is a thing that can be measured. The numbers are those of the stored
// schema.
type What int32

// What can be measured.
const (
	Height      What = 1
	Weight      What = 2
	Arm         What = 3
	Hand        What = 4
	Wingspan    What = 5
	Forty       What = 6
	TenSplit    What = 7
	TwentySplit What = 8
	Shuttle     What = 9
	ThreeCone   What = 10
	Vertical    What = 11
	BroadJump   What = 12
	Bench       What = 13
)

// Unit is what an amount counts. The numbers are those of the stored schema.
type Unit int32

// The units, one for each family of measures.
const (
	EighthInch  Unit = 1
	TenthPound  Unit = 2
	Millisecond Unit = 3
	Repetition  Unit = 4
)

// String names the unit in the plural, as in "614 eighths of an inch".
func (u Unit) String() string {
	switch u {
	case EighthInch:
		return "eighths of an inch"
	case TenthPound:
		return "tenths of a pound"
	case Millisecond:
		return "milliseconds"
	case Repetition:
		return "repetitions"
	}
	return fmt.Sprintf("unit %d", int32(u))
}

// spec is how one measure is written and what it can be. The limits only keep
// out what no player has ever been, such as a value in the wrong unit or column;
// they are wide, our own, and no judgement.
type spec struct {
	name     string
	unit     Unit
	min, max int64
	example  string
}

var specs = map[What]spec{
	Height:      {"height", EighthInch, 4 * 12 * 8, 8*12*8 - 1, "6046 or 6'4 3/4\""},
	Weight:      {"weight", TenthPound, 800, 6000, "305 or 138.3 kg"},
	Arm:         {"arm", EighthInch, 20 * 8, 50 * 8, "332 or 33 1/4"},
	Hand:        {"hand", EighthInch, 5 * 8, 16 * 8, "097 or 9 7/8"},
	Wingspan:    {"wingspan", EighthInch, 50 * 8, 100*8 - 1, "804 or 80 1/2"},
	Forty:       {"forty", Millisecond, 3500, 10000, "4.98"},
	TenSplit:    {"ten_split", Millisecond, 1000, 4000, "1.72"},
	TwentySplit: {"twenty_split", Millisecond, 2000, 7000, "2.87"},
	Shuttle:     {"shuttle", Millisecond, 3000, 9000, "4.61"},
	ThreeCone:   {"three_cone", Millisecond, 5000, 15000, "7.52"},
	Vertical:    {"vertical", EighthInch, 5 * 8, 60 * 8, "31 1/2 or 31.5"},
	BroadJump:   {"broad_jump", EighthInch, 40 * 8, 160 * 8, "9'4\" or 112"},
	Bench:       {"bench", Repetition, 0, 100, "27"},
}

// All returns every measure in the schema's order.
func All() []What {
	all := make([]What, 0, len(specs))
	for w := range specs {
		all = append(all, w)
	}
	slices.Sort(all)
	return all
}

// String gives the schema's name, such as three_cone.
func (w What) String() string {
	if s, ok := specs[w]; ok {
		return s.name
	}
	return fmt.Sprintf("measure %d", int32(w))
}

// Unit returns what amounts of w count.
func (w What) Unit() Unit { return specs[w].unit }

// Holds reports whether an amount of a unit can be one of w: in its unit, and a
// player's.
func (w What) Holds(unit Unit, amount int64) bool {
	s := specs[w]
	return s.unit == unit && s.min <= amount && amount <= s.max
}

// Timed reports whether w is a time, which means little without knowing whether
// a hand or a machine took it.
func (w What) Timed() bool { return specs[w].unit == Millisecond }

// Named returns the measure with the schema's name.
func Named(name string) (What, bool) {
	for w, s := range specs {
		if s.name == strings.ToLower(name) {
			return w, true
		}
	}
	return 0, false
}
