package importer

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"plumbline/node/measure"
	"plumbline/node/record"
	"plumbline/sync/entry"
)

// identifier names a proposal within the table.
type identifier struct {
	kind entry.Kind
	key  string
}

// builder gathers the proposals of a table row by row.
type builder struct {
	options  Options
	layout   layout
	columns  []column
	derived  []column
	width    int
	sheet    string
	own      int
	made     []*Proposal
	byID     map[identifier]*Proposal
	parsed   map[int]map[string]record.Value
	problems []Problem
	failed   int
}

func newBuilder(o Options, l layout, columns []column, t *table) *builder {
	return &builder{
		options: o, layout: l, columns: columns, width: len(t.header), sheet: t.sheet, own: t.own,
		byID: map[identifier]*Proposal{}, parsed: map[int]map[string]record.Value{},
	}
}

// reading is one row, read but not yet accepted.
type reading struct {
	line int
	// record is the id that the row gives, if it does; anotherOne is set if it says
	// that it is none of those that are there.
	record     string
	anotherOne bool
	values     map[entry.Kind][]FieldValue
	measures   []measured
	shown      []ShownCell
	about      map[about]string
	problems   []Problem
	// bad holds the registers whose cells are wrong: they aren't missing.
	bad map[record.Register]bool
	// stands holds the registers whose cells say what stands there.
	stands map[record.Register]bool
	beside []record.Register
	// broken is set when cells can't be told apart, or hold no value that counts.
	broken bool
}

type measured struct {
	column column
	what   measure.What
	typed  string
}

// add takes a row in whole, or not at all.
func (b *builder) add(r row) {
	got := b.read(r)
	if !got.broken {
		b.checkMeasures(got)
		b.checkNames(got)
	}
	var proposals []*Proposal
	if len(got.problems) == 0 {
		proposals = b.propose(got)
	}
	if len(got.problems) == 0 {
		got.problems = b.clashes(proposals)
	}
	if len(got.problems) > 0 {
		b.failed++
		room := MaxProblems - len(b.problems)
		b.problems = append(b.problems, got.problems[:min(room, len(got.problems))]...)
		return
	}
	for _, p := range proposals {
		b.accept(p)
	}
}

// read parses a row's cells.
func (b *builder) read(r row) *reading {
	got := &reading{line: r.line, values: map[entry.Kind][]FieldValue{}, about: map[about]string{}, bad: map[record.Register]bool{}, stands: map[record.Register]bool{}}
	if len(r.cells) > b.width && !blank(r.cells[b.width:]) {
		got.broken = true
		got.problems = append(got.problems, b.problem(r.line, "", "", fmt.Sprintf("%d cells, and the header names %d columns; %s", len(r.cells), b.width, b.tooWide())))
		return got
	}
	b.readRecord(got, r)
	b.readShown(got, r)
	for _, c := range b.columns {
		if c.index >= len(r.cells) || blank(r.cells[c.index:c.index+1]) {
			continue
		}
		cell := r.cells[c.index]
		if fault := r.faults[c.index]; fault != "" {
			// What the row lacks without this cell isn't known, so it isn't said.
			got.broken = true
			got.problems = append(got.problems, b.problem(r.line, c.header, cell, fault))
			continue
		}
		switch {
		case c.about != "":
			got.about[c.about] = cell
		case c.measure != 0:
			got.measures = append(got.measures, measured{c, c.measure, cell})
		case b.stands(got, c, cell):
			got.stands[c.register] = true
		case b.layout.saved && b.layout.rows == record.Measurement:
			got.problems = append(got.problems, b.problem(r.line, c.header, cell, "a table changes no number that is here: add the new one in a row of its own, in a table that names its prospect, and retire this one"))
		default:
			v, err := b.parse(c, cell)
			if err != nil {
				got.problems = append(got.problems, b.problem(r.line, c.header, cell, rule(err)))
				got.bad[c.register] = true
				continue
			}
			got.values[c.kind] = append(got.values[c.kind], FieldValue{Register: c.register, Value: v})
		}
	}
	return got
}

// readRecord reads first which record a row is about.
func (b *builder) readRecord(got *reading, r row) {
	for _, c := range b.columns {
		if c.about != aboutRecord || c.index >= len(r.cells) {
			continue
		}
		got.record = strings.TrimSpace(r.cells[c.index])
		if got.anotherOne = fold(got.record) == AnotherOne; got.anotherOne {
			got.record = ""
		}
	}
}

// readShown reads what is left out of a row that gives its record.
func (b *builder) readShown(got *reading, r row) {
	for _, c := range b.derived {
		name := c.shownName()
		if got.record == "" || name == RecordColumn {
			continue
		}
		text := ""
		if c.index < len(r.cells) {
			text = strings.TrimSpace(r.cells[c.index])
		}
		got.shown = append(got.shown, ShownCell{c.header, name, text})
	}
}

// stands reports whether a cell says just what stands there, and notes if that isn't
// what an export shows first.
func (b *builder) stands(got *reading, c column, cell string) bool {
	if got.record == "" || b.options.Standing == nil {
		return false
	}
	at := slices.Index(b.options.Standing(got.record, c.register), cell)
	if at > 0 {
		got.beside = append(got.beside, c.register)
	}
	return at >= 0
}

// parse reads a cell. Most cells of a column say what one above said, so what was
// read is remembered, within bounds.
func (b *builder) parse(c column, cell string) (record.Value, error) {
	const most = 4096
	known := b.parsed[c.index]
	if v, ok := known[cell]; ok {
		return v, nil
	}
	v, err := c.register.Parse(cell)
	if err == nil && len(known) < most && len(cell) < 64 {
		if known == nil {
			known = map[string]record.Value{}
			b.parsed[c.index] = known
		}
		known[cell] = v
	}
	return v, err
}

// clashes says where a row contradicts the rows above it.
func (b *builder) clashes(proposals []*Proposal) []Problem {
	var problems []Problem
	for _, p := range proposals {
		before, ok := b.byID[identifier{p.Kind, p.NaturalKey}]
		if !ok {
			continue
		}
		k, _ := record.Stored().Kind(p.Kind)
		if p.Kind == b.layout.rows || p.Kind == record.Measurement {
			problems = append(problems, b.problem(p.Line, "", "", twice(p, before, k)))
			if p.Kind == b.layout.rows {
				return problems // the row is one too many, whatever its cells say
			}
			continue
		}
		for _, v := range p.Fields {
			other, ok := before.value(v.Register)
			if ok && !v.IsRef() && !sayTheSame(v, other) {
				typed, _ := v.Register.Text(v.Value)
				problems = append(problems, b.problem(p.Line, v.Register.Path(), typed,
					fmt.Sprintf("line %d says something else about the same %s", before.Line, k.Name)))
			}
		}
	}
	return problems
}

// twice says that a row is about what a row above is about. Who is new is known by
// what the row says of them, and by no number: else a number that is corrected in the
// list would enter one more.
func twice(p, before *Proposal, k *record.Kind) string {
	if !p.AnotherOne {
		return fmt.Sprintf("the same %s as in line %d; leave one of them out", k.Name, before.Line)
	}
	tells := "something that differs, such as the note"
	if k.Number == record.Prospect {
		tells = "its own list_id, or something that differs, such as the jersey or the note: measurements don't tell two apart"
	}
	return fmt.Sprintf("line %d says the same of a %s that is %s, so both would be one; if they are two, give each %s; if not, leave one of them out", before.Line, k.Name, AnotherOne, tells)
}

// sayTheSame lets names differ in capitals and spaces, as keys do.
func sayTheSame(a, b FieldValue) bool {
	if string(a.Value.Bytes) == string(b.Value.Bytes) {
		return true
	}
	one, err1 := a.Register.Text(a.Value)
	other, err2 := b.Register.Text(b.Value)
	return err1 == nil && err2 == nil && a.Register.Field.Basic() == record.BasicText && fold(one) == fold(other)
}

// accept files a proposal, or adds to the one of an earlier row.
func (b *builder) accept(p *Proposal) {
	id := identifier{p.Kind, p.NaturalKey}
	before, ok := b.byID[id]
	if !ok {
		b.byID[id] = p
		b.made = append(b.made, p)
		return
	}
	for _, v := range p.Fields {
		if _, ok := before.value(v.Register); !ok {
			before.Fields = append(before.Fields, v)
		}
	}
}

func (p *Proposal) value(r record.Register) (FieldValue, bool) {
	for _, v := range p.Fields {
		if v.Register == r {
			return v, true
		}
	}
	return FieldValue{}, false
}

func (b *builder) problem(line int, column, value, rule string) Problem {
	p := Problem{File: b.options.File, Line: line, Column: column, Value: value, Rule: rule, Sheet: b.sheet}
	p.Cell = b.cellOf(p)
	return p
}

// rule is the reason of an error about a value, without what the problem itself
// says.
func rule(err error) string {
	var invalid *record.Invalid
	if errors.As(err, &invalid) {
		return invalid.Reason
	}
	return err.Error()
}

func (b *builder) result(t *table) *Result {
	out := &Result{Problems: b.problems, Failed: b.failed, Rows: len(t.rows), Sheet: b.sheet, table: t}
	for _, p := range b.made {
		out.Proposals = append(out.Proposals, *p)
	}
	for _, c := range b.columns {
		out.Columns = append(out.Columns, Column{c.header, c.name()})
	}
	return out
}
