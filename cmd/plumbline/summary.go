package main

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/protobuf/types/known/structpb"

	"plumbline/node/measure"
	v1 "plumbline/proto/plumbline/v1"
)

// summary is what is worked out from a record. Each part of it takes the figures
// that it words; what is left, such as the figures of a newer node, is listed as
// it is.
type summary struct {
	figures map[string]*structpb.Value
	rows    [][]string
}

// writeSummary leaves out the record's own fields, which expressions use as well.
func writeSummary(w io.Writer, answer *v1.GetResponse) {
	s := &summary{figures: maps.Clone(answer.GetSummary().GetFields())}
	maps.DeleteFunc(s.figures, func(name string, value *structpb.Value) bool {
		return saysNothing(value) || fieldNamed(answer.GetRecord(), name)
	})
	for _, what := range measure.All() {
		s.measured(what)
	}
	s.film()
	s.grades()
	for _, name := range slices.Sorted(maps.Keys(s.figures)) {
		if number, ok := s.figures[name].GetKind().(*structpb.Value_NumberValue); ok && number.NumberValue == 0 {
			continue // a count of none
		}
		s.add(strings.ReplaceAll(name, "_", " "), figureText(s.figures[name]))
	}
	if len(s.rows) > 0 {
		fmt.Fprintln(w, "\nworked out")
		table(w, "  ", s.rows)
	}
}

func (s *summary) add(cells ...string) { s.rows = append(s.rows, cells) }

// take gives a figure's number, and whether it is there.
func (s *summary) take(name string) (float64, bool) {
	value, ok := s.figures[name]
	delete(s.figures, name)
	return value.GetNumberValue(), ok
}

// measured words one measurement: the number, its source, and where it stands
// among others of the position. One alone stands nowhere.
func (s *summary) measured(what measure.What) {
	name := what.String()
	number, ok := s.take(name)
	source := s.figures[name+"_source"].GetStringValue()
	delete(s.figures, name+"_source")
	standing, stands := s.take(name + "_percentile")
	cohort, _ := s.take(name + "_cohort")
	if !ok {
		return
	}
	among := ""
	if stands && cohort > 1 {
		among = fmt.Sprintf("percentile %.0f among %.0f of the position", standing, cohort)
	}
	s.add(strings.ReplaceAll(name, "_", " "), measure.Format(what, measure.OfNumber(what, number)), source, among)
}

// film words what was charted.
func (s *summary) film() {
	looks, _ := s.take("looks")
	reps, _ := s.take("reps")
	won, _ := s.take("won")
	even, _ := s.take("even")
	lost, _ := s.take("lost")
	share, known := s.take("won_share")
	if looks > 0 {
		s.add("film", counted(int(looks), "look", "looks")+", "+counted(int(reps), "rep", "reps")+" with a result")
	}
	if reps > 0 {
		text := fmt.Sprintf("%.0f won, %.0f even, %.0f lost", won, even, lost)
		if known {
			text += fmt.Sprintf(": %.0f %% won", 100*share)
		}
		s.add("reps", text)
	}
}

// grades words the opinions: means, which say of how many they are.
func (s *summary) grades() {
	evaluations, _ := s.take("evaluations")
	filed, _ := s.take("filed")
	if evaluations > 0 {
		s.add("evaluations", fmt.Sprintf("%.0f, of them %.0f filed", evaluations, filed))
	}
	for _, name := range []string{"overall", "projected"} {
		if grade, ok := s.take(name); ok {
			s.add(name, mean(grade))
		}
	}
	grades := s.figures["grades"].GetStructValue().GetFields()
	delete(s.figures, "grades")
	var words []string
	for _, factor := range slices.Sorted(maps.Keys(grades)) {
		words = append(words, factor+" "+mean(grades[factor].GetNumberValue()))
	}
	if len(words) > 0 {
		s.add("grades", strings.Join(words, ", "))
	}
}

func mean(grade float64) string { return strconv.FormatFloat(grade, 'f', 1, 64) }

// saysNothing tells what says nothing: no value, an empty list.
func saysNothing(value *structpb.Value) bool {
	switch v := value.GetKind().(type) {
	case *structpb.Value_ListValue:
		return len(v.ListValue.GetValues()) == 0
	case *structpb.Value_StructValue:
		return len(v.StructValue.GetFields()) == 0
	case *structpb.Value_StringValue:
		return v.StringValue == ""
	case *structpb.Value_NullValue, nil:
		return true
	}
	return false
}

func figureText(value *structpb.Value) string {
	switch v := value.GetKind().(type) {
	case *structpb.Value_StringValue:
		return v.StringValue
	case *structpb.Value_NumberValue:
		return strconv.FormatFloat(v.NumberValue, 'f', -1, 64)
	case *structpb.Value_ListValue:
		var items []string
		for _, item := range v.ListValue.GetValues() {
			items = append(items, figureText(item))
		}
		return strings.Join(items, ", ")
	case *structpb.Value_StructValue:
		var items []string
		for _, key := range slices.Sorted(maps.Keys(v.StructValue.GetFields())) {
			items = append(items, key+" "+figureText(v.StructValue.GetFields()[key]))
		}
		return strings.Join(items, ", ")
	}
	return fmt.Sprint(value.AsInterface())
}

func fieldNamed(record *v1.Record, name string) bool {
	return slices.ContainsFunc(record.GetFields(), func(f *v1.Field) bool {
		path, _, _ := strings.Cut(f.GetName(), ".")
		return path == name
	})
}
