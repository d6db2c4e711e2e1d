package importer

import (
	"errors"
	"fmt"
	"slices"

	"plumbline/node/measure"
	"plumbline/node/record"
	"plumbline/sync/entry"
)

// A row is checked as a whole before anything is made of it: whoever corrects a
// table wants all of its faults at once, each said once.

// checkNames says what a row lacks to name its records. A cell that is there and
// wrong has been said already.
func (b *builder) checkNames(got *reading) {
	missing := func(kind entry.Kind, names ...string) bool {
		lacks := false
		for _, name := range names {
			if got.bad[record.Must(kind, name)] {
				return false
			}
			_, ok := text(got.values[kind], name)
			lacks = lacks || !ok
		}
		return lacks
	}
	say := func(rule string) { got.problems = append(got.problems, b.problem(got.line, "", "", rule)) }
	switch {
	case got.anotherOne && b.layout.rows != record.Prospect && b.layout.rows != record.Game:
		say(fmt.Sprintf("%q is for prospects and games; leave record empty where nothing is here yet", AnotherOne))
		return
	case b.layout.saved && got.record == "" && b.layout.rows == record.Measurement:
		say("which one? Fill in record, its id; a number is added by a table that names its prospect and has no such column")
	case b.layout.saved && got.record == "":
		say("which one? Fill in record, its id, or add the columns that name it: prospect and game")
	}
	if b.layout.saved || got.record != "" {
		return
	}
	rows := b.layout.rows
	if rows != record.Game && missing(record.Prospect, "list_id") && missing(record.Prospect, "name", "school", "class_year") {
		say("which prospect? Fill in list_id, or name, school and class_year")
	}
	if (rows == record.Game || rows == record.Rep) && missing(record.Game, "date", "home", "away") {
		say("which game? Fill in date, home and away")
	}
	if rows == record.Rep && missing(record.Rep, "number") {
		say("a rep needs its number within the look")
	}
}

// checkMeasures checks each number, and what is said of all of them.
func (b *builder) checkMeasures(got *reading) {
	measures := got.measures
	if b.layout.long {
		measures = b.takeLong(got)
	}
	for _, m := range measures {
		for _, p := range b.measureProblems(got, m) {
			// A source or a date is said of all numbers of the row.
			if !slices.Contains(got.problems, p) {
				got.problems = append(got.problems, p)
			}
		}
	}
}

// measureProblems puts right what is wrong, one part after the other, until
// nothing is: a record says only the first thing that is wrong.
func (b *builder) measureProblems(got *reading, m measured) []Problem {
	var problems []Problem
	said := b.said(got, m)
	for range 4 { // its parts
		_, _, err := record.Measured(said)
		if err == nil {
			break
		}
		problems = append(problems, b.blame(got, m, said, err))
		switch wrongPart(err) {
		case aboutSource:
			said.Source = "verified"
		case aboutTiming:
			said.Timing = ""
		case aboutDate:
			said.Date = ""
		default:
			said.What, said.Typed = anyNumber.what, anyNumber.typed
			if !m.what.Timed() {
				said.Timing = ""
			}
		}
	}
	return problems
}

// anyNumber stands in for a number that can't be read, so that what is said
// about it is checked too. It is a time, of which everything can be said.
var anyNumber = measured{what: measure.Forty, typed: "5.00"}

// wrongPart names the part of a measurement that an error is about.
func wrongPart(err error) about {
	var invalid *record.Invalid
	if errors.As(err, &invalid) {
		return about(invalid.Path)
	}
	return ""
}
