package node

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"plumbline/node/importer"
	"plumbline/node/record"
	"plumbline/sync/entry"
)

// What is wrong with single rows is told of each of them, and each is left out alone.
// What can't be saved is found here too, before anything is: the table is one
// transaction, and its entries would be refused one and all without a line.

// cantSave says why what a row changes can't be saved; nothing if it can.
func (b *importing) cantSave(p importer.Proposal, id entry.RecordID, changes []placed) string {
	if len(changes) > 0 && p.Record != "" && id.Class() == entry.Owned && id.Person() != b.cert.Person {
		return fmt.Sprintf("this %s is %s's, and only they may change it; leave the row as it was, or out", kindName(id), b.personName(id.Person()))
	}
	for record, own := range byRecord(changes) {
		if body := (entry.Body{Kind: entry.KindChanges, Source: b.sourceOf(p), Changes: own}); !entry.Fits(record, body) {
			return fmt.Sprintf("its texts take more than the %d KiB that are saved of a record at once: %s; shorten them, or map one to %q and import it in a table of its own",
				entry.MaxSize>>10, longest(p, own), importer.Ignored)
		}
	}
	return ""
}

// longest names the longest values among changes, three at most.
func longest(p importer.Proposal, changes []entry.Change) string {
	const most = 3
	changes = slices.SortedStableFunc(slices.Values(changes), func(a, c entry.Change) int { return cmp.Compare(len(c.Value), len(a.Value)) })
	var named []string
	for _, c := range changes[:min(most, len(changes))] {
		for _, f := range p.Fields {
			if !f.IsRef() && f.Register.Address() == c.Register {
				named = append(named, fmt.Sprintf("%s %d KiB", f.Register.Path(), len(c.Value)>>10))
			}
		}
	}
	return strings.Join(named, ", ")
}

// refuseRow tells what is wrong with a row, once for all rows that mention the
// same record, and leaves it out.
func (b *importing) refuseRow(p importer.Proposal, rule string) {
	if !b.without[naturalKey{p.Kind, p.NaturalKey}] {
		b.list(RowError{Line: p.Line, Value: b.words(p), Rule: rule})
	}
	b.leaveOut(p)
}

// refuseCell tells what is wrong with one value of a row, and leaves the row out.
func (b *importing) refuseCell(p importer.Proposal, f importer.FieldValue, rule string) {
	text, err := f.Register.Text(f.Value)
	if err != nil {
		b.fail(err)
	}
	b.list(RowError{Line: p.Line, Column: f.Register.Path(), Value: text, Rule: rule})
	b.leaveOut(p)
}

// refuseDay tells of a date that can't be meant, in the column that has it, and leaves
// the row out.
func (b *importing) refuseDay(p importer.Proposal, f importer.FieldValue) {
	if f.IsRef() {
		return
	}
	var beyond *record.Invalid
	switch err := b.day(f.Register, f.Value); {
	case errors.As(err, &beyond):
		b.list(RowError{Line: p.Line, Column: beyond.Path, Value: beyond.Typed, Rule: beyond.Reason})
		b.leaveOut(p)
	case err != nil:
		b.fail(err)
	}
}

// list names what is wrong with a row, within the bound that the table's own faults have.
func (b *importing) list(e RowError) {
	b.wrong[e.Line] = true
	if e.File, e.Sheet = b.file, b.sheet; len(b.report.Errors) < importer.MaxProblems {
		b.report.Errors = append(b.report.Errors, e)
	}
}

// remarkOnUnlisted tells how many rows are wrong where not all of them are listed.
func (r *ImportReport) remarkOnUnlisted(wrong int) {
	listed := map[int]bool{}
	for _, e := range r.Errors {
		listed[e.Line] = true
	}
	if len(listed) < wrong {
		r.Remarks = append(r.Remarks, fmt.Sprintf("%d rows are wrong, and the first %d of them are listed; correct these, and read the table again for the others", wrong, len(listed)))
	}
}

func (b *importing) leaveOut(p importer.Proposal) {
	b.without[naturalKey{p.Kind, p.NaturalKey}] = true
	b.skipped[p.Line] = true
}

// wrongRows are the rows that errors are about, as they stand in the table.
func wrongRows(errs []RowError, of *importer.Result) []TableRow {
	var rows []TableRow
	for _, e := range errs {
		if len(rows) > 0 && rows[len(rows)-1].Line == e.Line {
			continue
		}
		if cells, ok := of.Line(e.Line); ok {
			rows = append(rows, TableRow{Line: e.Line, Cells: cells})
		}
	}
	return rows
}
