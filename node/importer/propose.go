package importer

import (
	"cmp"
	"errors"

	"plumbline/node/record"
	"plumbline/sync/entry"
)

// propose turns a row into proposals, what is referred to first. What it can't
// name becomes a problem of the row.
func (b *builder) propose(got *reading) []*Proposal {
	switch b.layout.rows {
	case record.Game:
		return b.some(b.game(got))
	case record.Rep:
		return b.reps(got)
	}
	prospect := b.prospect(got)
	if prospect == nil {
		return nil
	}
	out := []*Proposal{prospect}
	switch b.layout.rows {
	case record.Evaluation:
		evaluation := b.owned(got, record.Evaluation, prospect.NaturalKey)
		evaluation.Fields = append(evaluation.Fields, refer(record.Evaluation, "prospect", prospect))
		out = append(out, evaluation)
	case record.Measurement:
		b.takeLong(got)
	}
	for _, m := range got.measures {
		out = append(out, b.some(b.measurement(got, prospect, m))...)
	}
	return out
}

// reps proposes the prospect, the game and the look of a rep, and the rep.
func (b *builder) reps(got *reading) []*Proposal {
	prospect, game := b.prospect(got), b.game(got)
	if prospect == nil || game == nil {
		return nil
	}
	number, ok := text(got.values[record.Rep], "number")
	if !ok {
		got.problems = append(got.problems, b.problem(got.line, "", "", "a rep needs its number within the look"))
		return nil
	}
	look := b.owned(got, record.Look, within([]string{prospect.NaturalKey}, game.NaturalKey))
	look.Fields = append(look.Fields, refer(record.Look, "prospect", prospect), refer(record.Look, "game", game))
	rep := b.owned(got, record.Rep, within([]string{look.NaturalKey}, number))
	rep.Fields = append(rep.Fields, refer(record.Rep, "look", look))
	return []*Proposal{prospect, game, look, rep}
}

// prospect proposes or mentions the row's prospect.
func (b *builder) prospect(got *reading) *Proposal {
	fields := got.values[record.Prospect]
	listID, _ := text(fields, "list_id")
	name, _ := text(fields, "name")
	school, _ := text(fields, "school")
	year, _ := text(fields, "class_year")
	key, ok := prospectKey(listID, name, school, year)
	if !ok {
		got.problems = append(got.problems, b.problem(got.line, "", "", "which prospect? Fill in list_id, or name, school and class_year"))
		return nil
	}
	return &Proposal{Kind: record.Prospect, NaturalKey: key, Mention: b.layout.rows != record.Prospect, Fields: fields, Line: got.line}
}

// game proposes or mentions the row's game.
func (b *builder) game(got *reading) *Proposal {
	fields := got.values[record.Game]
	date, ok1 := text(fields, "date")
	home, ok2 := text(fields, "home")
	away, ok3 := text(fields, "away")
	if !ok1 || !ok2 || !ok3 {
		got.problems = append(got.problems, b.problem(got.line, "", "", "which game? Fill in date, home and away"))
		return nil
	}
	return &Proposal{Kind: record.Game, NaturalKey: key(date, home, away), Mention: b.layout.rows != record.Game, Fields: fields, Line: got.line}
}

func (b *builder) owned(got *reading, kind entry.Kind, key string) *Proposal {
	return &Proposal{Kind: kind, NaturalKey: key, Fields: got.values[kind], Line: got.line}
}

// takeLong reads the measurement of a row that is one.
func (b *builder) takeLong(got *reading) {
	value := measured{typed: got.about[aboutValue], column: column{header: b.headerOf(aboutValue)}}
	what, err := record.MeasureNamed(got.about[aboutWhat])
	if err != nil {
		got.problems = append(got.problems, b.problem(got.line, b.headerOf(aboutWhat), got.about[aboutWhat], rule(err)))
		return
	}
	value.what = what
	got.measures = append(got.measures, value)
}

// measurement proposes one number of a row.
func (b *builder) measurement(got *reading, prospect *Proposal, m measured) *Proposal {
	said := record.Reading{
		What: m.what, Typed: m.typed,
		Source: cmp.Or(got.about[aboutSource], b.options.Source),
		Date:   cmp.Or(got.about[aboutDate], b.options.Date),
	}
	if said.What.Timed() {
		said.Timing = cmp.Or(got.about[aboutTiming], b.options.Timing)
	}
	what, number, err := record.Measured(said)
	if err != nil {
		got.problems = append(got.problems, b.blame(got, m, said, err))
		return nil
	}
	register := record.Must(record.Measurement, "reading")
	return &Proposal{
		Kind:       record.Measurement,
		NaturalKey: within([]string{prospect.NaturalKey}, said.What.String(), sourceOf(register, number), said.Date, said.Typed),
		Fields: []FieldValue{
			refer(record.Measurement, "prospect", prospect),
			{Register: record.Must(record.Measurement, "what"), Value: what},
			{Register: register, Value: number},
		},
		Line: got.line,
	}
}

// sourceOf is the source by its own name, whichever of its names was typed.
func sourceOf(register record.Register, number record.Value) string {
	plain, err := register.Native(number)
	if err != nil {
		panic("importer: a value just made can't be read: " + err.Error())
	}
	source, _ := plain.(map[string]any)["source"].(string)
	return source
}

// blame finds the column whose value a measurement fails on.
func (b *builder) blame(got *reading, m measured, said record.Reading, err error) Problem {
	var invalid *record.Invalid
	if errors.As(err, &invalid) {
		switch about(invalid.Path) {
		case aboutSource:
			return b.problem(got.line, b.headerOf(aboutSource), said.Source, invalid.Reason)
		case aboutTiming:
			return b.problem(got.line, b.headerOf(aboutTiming), said.Timing, invalid.Reason)
		case aboutDate:
			return b.problem(got.line, b.headerOf(aboutDate), said.Date, invalid.Reason)
		}
	}
	return b.problem(got.line, m.column.header, m.typed, rule(err))
}

// headerOf is the name that the file gives to what is said about measurements.
func (b *builder) headerOf(what about) string {
	for _, c := range b.columns {
		if c.about == what {
			return c.header
		}
	}
	return string(what)
}

func refer(kind entry.Kind, field string, to *Proposal) FieldValue {
	return FieldValue{Register: record.Must(kind, field), RefKind: to.Kind, RefKey: to.NaturalKey}
}

// text shows the value of a field among those of a row.
func text(fields []FieldValue, name string) (string, bool) {
	for _, v := range fields {
		if v.Register.Field.Name == name {
			shown, err := v.Register.Text(v.Value)
			return shown, err == nil
		}
	}
	return "", false
}

func (b *builder) some(p *Proposal) []*Proposal {
	if p == nil {
		return nil
	}
	return []*Proposal{p}
}
