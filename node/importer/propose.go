package importer

import (
	"cmp"

	"plumbline/node/record"
	"plumbline/sync/entry"
)

// propose turns a row without problems into proposals, what is referred to
// first.
func (b *builder) propose(got *reading) []*Proposal {
	if b.layout.saved || got.record != "" && b.layout.isOwned() {
		return []*Proposal{b.named(got, &Proposal{Kind: b.layout.rows, Fields: got.values[b.layout.rows], Line: got.line})}
	}
	switch b.layout.rows {
	case record.Game:
		return []*Proposal{b.game(got)}
	case record.Rep:
		return b.reps(got)
	}
	prospect := b.prospect(got)
	out := []*Proposal{prospect}
	switch b.layout.rows {
	case record.Evaluation:
		evaluation := b.owned(got, record.Evaluation, prospect.NaturalKey)
		evaluation.Fields = append(evaluation.Fields, refer(record.Evaluation, "prospect", prospect))
		out = append(out, evaluation)
	}
	for _, m := range got.measures {
		out = append(out, b.measurement(got, prospect, m))
	}
	return out
}

// reps proposes the prospect, the game and the look of a rep, and the rep.
func (b *builder) reps(got *reading) []*Proposal {
	prospect, game := b.prospect(got), b.game(got)
	number, _ := text(got.values[record.Rep], "number")
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
	return b.named(got, &Proposal{
		Kind: record.Prospect, NaturalKey: prospectKey(listID, name, school, year), Mention: b.layout.rows != record.Prospect,
		Complete: listID != "" || name != "" && school != "" && year != "", Fields: fields, Line: got.line,
	})
}

// game proposes or mentions the row's game.
func (b *builder) game(got *reading) *Proposal {
	fields := got.values[record.Game]
	date, _ := text(fields, "date")
	home, _ := text(fields, "home")
	away, _ := text(fields, "away")
	return b.named(got, &Proposal{
		Kind: record.Game, NaturalKey: key(date, home, away), Mention: b.layout.rows != record.Game,
		Complete: date != "" && home != "" && away != "", Fields: fields, Line: got.line,
	})
}

// named says of what a row is about which record it is, where the row gives its id.
// It is known by that and by nothing else: two may have one name. One that is none of
// those that are there is known by the list's id, else by all that the row says.
func (b *builder) named(got *reading, p *Proposal) *Proposal {
	if p.Kind != b.layout.rows {
		return p
	}
	if p.AnotherOne = got.anotherOne; p.AnotherOne {
		if listID, _ := text(p.Fields, "list_id"); listID == "" {
			p.NaturalKey = anotherKey(p.Fields)
		}
	}
	if p.Record = got.record; p.Record == "" {
		return p
	}
	p.NaturalKey, p.Shown, p.Beside = key(RecordColumn, p.Record), got.shown, got.beside
	for _, c := range b.columns {
		if _, full := p.value(c.register); !full && !got.stands[c.register] && c.kind == p.Kind && c.about == "" && c.measure == 0 {
			p.Empty = append(p.Empty, c.register)
		}
	}
	return p
}

func (b *builder) owned(got *reading, kind entry.Kind, key string) *Proposal {
	return &Proposal{Kind: kind, NaturalKey: key, Fields: got.values[kind], Line: got.line}
}

// takeLong reads the measurement of a row that is one, to be checked.
func (b *builder) takeLong(got *reading) []measured {
	value := measured{typed: got.about[aboutValue], column: column{header: b.headerOf(aboutValue)}}
	what, err := record.MeasureNamed(got.about[aboutWhat])
	if err != nil {
		got.problems = append(got.problems, b.problem(got.line, b.headerOf(aboutWhat), got.about[aboutWhat], rule(err)))
		return []measured{{what: anyNumber.what, typed: anyNumber.typed, column: value.column}}
	}
	value.what = what
	got.measures = append(got.measures, value)
	return got.measures
}

// said is what a row says of one of its numbers.
func (b *builder) said(got *reading, m measured) record.Reading {
	said := record.Reading{
		What: m.what, Typed: m.typed,
		Source: cmp.Or(got.about[aboutSource], b.options.Source),
		Date:   cmp.Or(got.about[aboutDate], b.options.Date),
	}
	if said.What.Timed() {
		said.Timing = cmp.Or(got.about[aboutTiming], b.options.Timing)
	}
	return said
}

// measurement proposes one number of a row.
func (b *builder) measurement(got *reading, prospect *Proposal, m measured) *Proposal {
	said := b.said(got, m)
	what, number, err := record.Measured(said)
	if err != nil {
		panic("importer: a measurement that was checked can't be made: " + err.Error())
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
	switch part := wrongPart(err); part {
	case aboutSource:
		if said.Source == "" {
			return b.problem(got.line, b.headerOf(part), "", "a number needs its source: fill in listed, estimated or verified")
		}
		return b.problem(got.line, b.headerOf(part), said.Source, rule(err))
	case aboutTiming:
		return b.problem(got.line, b.headerOf(part), said.Timing, rule(err))
	case aboutDate:
		return b.problem(got.line, b.headerOf(part), said.Date, rule(err))
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
