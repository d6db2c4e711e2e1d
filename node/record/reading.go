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
	words := strings.Fields(typed)
	what, err := MeasureNamed(words[0])
	if err != nil {
		return nil, err
	}
	r := Reading{What: what}
	end := len(words)
	for ; end > 1 && r.takes(words[end-1]); end-- {
	}
	r.Typed = strings.Join(words[1:end], " ")
	if r.Source == "" {
		return nil, because("a number needs its source: add listed, estimated or verified")
	}
	return r.message()
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
// 2026-03-01.
func MeasuredText(what, reading Value) (string, error) {
	m := &recordv1.Measurement{}
	if err := Must(Measurement, "what").Set(m, what); err != nil {
		return "", err
	}
	if err := Must(Measurement, "reading").Set(m, reading); err != nil {
		return "", err
	}
	thing := measure.What(m.GetWhat())
	if thing.Unit() != measure.Unit(m.GetReading().GetUnit()) {
		return readingText(m.GetReading()), nil
	}
	return measure.Format(thing, m.GetReading().GetAmount()) + aside(m.GetReading()), nil
}

// readingText shows a reading where it isn't known what was measured: as typed,
// else in its unit.
func readingText(m *recordv1.Reading) string {
	text := m.GetTyped()
	if text == "" {
		text = fmt.Sprintf("%d %s", m.GetAmount(), measure.Unit(m.GetUnit()))
	}
	return text + aside(m)
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

// MeasureNamed returns the measure that a person means: forty, 40, "40 yard dash".
func MeasureNamed(name string) (measure.What, error) {
	number, err := vocabularyOf(recordv1.Measure(0).Descriptor()).number(name)
	if err != nil {
		return 0, &Invalid{"what", name, err.Error()}
	}
	return measure.What(number), nil
}
