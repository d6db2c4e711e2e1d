package record

import (
	"errors"
	"fmt"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"plumbline/node/measure"
	recordv1 "plumbline/proto/plumbline/record/v1"
)

// Reading holds what a person says about one measurement, in their own notation.
type Reading struct {
	What  measure.What
	Typed string
	// Source is listed, estimated or verified.
	Source string
	// Timing is hand, electronic, or nothing.
	Timing string
	// Date is YYYY-MM-DD, or nothing.
	Date string
}

// Measured returns the two values of a measurement's registers what and reading.
func Measured(r Reading) (what, reading Value, err error) {
	m, err := r.message()
	if err != nil {
		return what, reading, err
	}
	if what, err = Must(Measurement, "what").Parse(r.What.String()); err != nil {
		return what, reading, err
	}
	register, v := Must(Measurement, "reading"), protoreflect.ValueOfMessage(m.ProtoReflect())
	if err := register.check(r.Typed, v); err != nil {
		return what, reading, err
	}
	return what, register.seal(v), nil
}

// message reads the number and the words around it.
func (r Reading) message() (*recordv1.Reading, error) {
	number, err := measure.Parse(r.What, r.Typed)
	var problem *measure.Error
	if errors.As(err, &problem) {
		return nil, &Invalid{r.What.String(), r.Typed, problem.Advice}
	}
	typed, err := cleanLine(r.Typed)
	if err != nil {
		return nil, &Invalid{r.What.String(), r.Typed, err.Error()}
	}
	m := &recordv1.Reading{
		Amount: proto.Int64(number.Amount),
		Unit:   recordv1.Unit(number.Unit).Enum(),
		Typed:  proto.String(typed),
	}
	if number.Rounded {
		m.Rounded = proto.Bool(true)
	}
	if r.Date != "" {
		if err := checkDay(r.Date); err != nil {
			return nil, &Invalid{"date", r.Date, err.Error()}
		}
		m.Date = proto.String(r.Date)
	}
	source, err := vocabularyOf(recordv1.Source(0).Descriptor()).number(r.Source)
	if err != nil {
		return nil, &Invalid{"source", r.Source, err.Error()}
	}
	m.Source = recordv1.Source(source).Enum()
	if r.Timing != "" {
		timing, err := vocabularyOf(recordv1.Timing(0).Descriptor()).number(r.Timing)
		if err != nil {
			return nil, &Invalid{"timing", r.Timing, err.Error()}
		}
		m.Timing = recordv1.Timing(timing).Enum()
	}
	return m, nil
}

// parseReading reads a measurement in one line: what, the number, then source,
// timing and date in any order: height 6 ft 4 in verified 2026-03-01.
func parseReading(typed string) (proto.Message, error) {
	var r Reading
	words := r.takeAside(typed)
	what, named := nameIn(words)
	if named == 0 { // what stands there instead is a slip of the pen, or a name without a number
		var err error
		if what, err = MeasureNamed(words[0]); err != nil {
			return nil, err
		}
		named = 1
	}
	r.What, r.Typed = what, strings.Join(words[named:], " ")
	if r.Source == "" {
		return nil, because("a number needs its source: add listed, estimated or verified")
	}
	return r.message()
}

// takeAside takes the words behind the number and returns those before them, one at
// least.
func (r *Reading) takeAside(typed string) []string {
	words := strings.Fields(typed)
	for len(words) > 1 && r.takes(words[len(words)-1]) {
		words = words[:len(words)-1]
	}
	return words
}

// nameIn finds the measurement that is named in front of a number, and in how many
// words: none if the first of them is the number. 40 is a name only with a number
// behind it.
func nameIn(words []string) (measure.What, int) {
	const longest = 3 // 40 yard dash
	for n := min(longest, len(words)-1); n > 0; n-- {
		if what, err := MeasureNamed(strings.Join(words[:n], " ")); err == nil {
			return what, n
		}
	}
	return 0, 0
}

// MeasureIn returns the measurement that a reading in one line names in front of its
// number, and the name as it was typed; false if it names none.
func MeasureIn(typed string) (what measure.What, name string, ok bool) {
	words := new(Reading).takeAside(typed)
	what, named := nameIn(words)
	return what, strings.Join(words[:named], " "), named > 0
}

// takes files a word behind the number, if it is one of those.
func (r *Reading) takes(word string) bool {
	if looksLikeADay(word) && r.Date == "" {
		r.Date = word
		return true
	}
	if _, err := vocabularyOf(recordv1.Source(0).Descriptor()).number(word); err == nil && r.Source == "" {
		r.Source = word
		return true
	}
	if _, err := vocabularyOf(recordv1.Timing(0).Descriptor()).number(word); err == nil && r.Timing == "" {
		r.Timing = word
		return true
	}
	return false
}

// MeasuredText shows a measurement in the trade's notation: 6046, verified,
// 2026-03-01. A number that is none of what was measured stands as it was typed, and
// that is said.
func MeasuredText(what, reading Value) (string, error) {
	thing, m, err := openMeasured(what, reading)
	switch {
	case err != nil:
		return "", err
	case !Counts(thing, m):
		return fmt.Sprintf("%s (no %s)%s", numberText(m), thing, aside(m)), nil
	}
	return measure.Format(thing, m.GetAmount()) + aside(m), nil
}

// Counts reports whether a reading is one of what was measured. Earlier programs kept
// others too.
func Counts(what measure.What, m *recordv1.Reading) bool {
	return what.Holds(measure.Unit(m.GetUnit()), m.GetAmount())
}

// CheckMeasured refuses a reading that is none of what was measured, or whose number
// would be another one of it than was meant.
func CheckMeasured(what, reading Value) error {
	thing, m, err := openMeasured(what, reading)
	if err != nil {
		return err
	}
	fits := Counts(thing, m)
	if fits && m.GetTyped() != "" {
		read, err := measure.Parse(thing, m.GetTyped())
		fits = err == nil && read.Amount == m.GetAmount()
	}
	if !fits {
		return &Invalid{"reading", numberText(m), fmt.Sprintf("%s is no %s, and the field what says %[2]s; correct one of the two", numberText(m), thing)}
	}
	return nil
}

// openMeasured opens the values of a measurement's registers what and reading.
func openMeasured(what, reading Value) (measure.What, *recordv1.Reading, error) {
	m := &recordv1.Measurement{}
	if err := Must(Measurement, "what").Set(m, what); err != nil {
		return 0, nil, err
	}
	if err := Must(Measurement, "reading").Set(m, reading); err != nil {
		return 0, nil, err
	}
	return measure.What(m.GetWhat()), m.GetReading(), nil
}

// readingText shows a reading where it isn't known what was measured.
func readingText(m *recordv1.Reading) string { return numberText(m) + aside(m) }

// numberText is a number as typed, else in its unit.
func numberText(m *recordv1.Reading) string {
	if m.GetTyped() != "" {
		return m.GetTyped()
	}
	return fmt.Sprintf("%d %s", m.GetAmount(), measure.Unit(m.GetUnit()))
}

// aside is what stands behind a number.
func aside(m *recordv1.Reading) string {
	var words []string
	if m.Timing != nil {
		words = append(words, vocabularyOf(m.GetTiming().Descriptor()).text(m.GetTiming().Number()))
	}
	if m.Source != nil {
		words = append(words, vocabularyOf(m.GetSource().Descriptor()).text(m.GetSource().Number()))
	}
	if m.Date != nil {
		words = append(words, m.GetDate())
	}
	if len(words) == 0 {
		return ""
	}
	return ", " + strings.Join(words, ", ")
}

// MeasureOf returns what the value of a measurement's register what names.
func MeasureOf(what Value) (measure.What, error) {
	m := &recordv1.Measurement{}
	err := Must(Measurement, "what").Set(m, what)
	return measure.What(m.GetWhat()), err
}

// MeasureNamed returns the measure that a person means: forty, 40, "40 yard dash".
func MeasureNamed(name string) (measure.What, error) {
	number, err := vocabularyOf(recordv1.Measure(0).Descriptor()).number(name)
	if err != nil {
		return 0, &Invalid{"what", name, err.Error()}
	}
	return measure.What(number), nil
}
