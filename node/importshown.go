package node

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"plumbline/node/importer"
	"plumbline/node/record"
	"plumbline/sync/entry"
)

// An export has columns that a table doesn't change: what is worked out from several
// records, and what names other records for people to read. Their cells are compared
// with what an export shows now, since what somebody typed there must not get lost
// without a word.

// noteShown notes such cells of a row that say something else than an export would.
// Prospects wait until all rows are read.
func (b *importing) noteShown(p importer.Proposal, g group) {
	switch {
	case len(p.Shown) == 0:
	case p.Kind == record.Prospect:
		b.saved.waiting = append(b.saved.waiting, importer.Proposal{Line: p.Line, Kind: p.Kind, Shown: p.Shown, Record: b.groups.Leader(g.leader).String()})
	default:
		columns := shownColumns(p)
		l := b.listed(g, names(columns))
		b.compareShown(p, b.completed(l, g, names(columns)).show(columns).Texts)
	}
}

// lookAtProspects compares the rows of prospects with what an export shows. All of them
// are listed at once: one by one their figures would be made one by one.
func (b *importing) lookAtProspects() error {
	if len(b.saved.waiting) == 0 {
		return nil
	}
	list, err := b.n.List(b.ctx, ListQuery{Kind: nameOf(record.Prospect), Columns: shownColumns(b.saved.waiting[0]), Hidden: true})
	if err != nil {
		return err
	}
	here := map[string][]string{}
	for _, row := range list.Rows {
		here[row.ID.String()] = row.Texts
	}
	for _, p := range b.saved.waiting {
		if texts, ok := here[p.Record]; ok {
			b.compareShown(p, texts)
		}
	}
	return nil
}

func shownColumns(p importer.Proposal) []string {
	var columns []string
	for _, cell := range p.Shown {
		columns = append(columns, cell.Name)
	}
	return columns
}

// compareShown notes which cells aren't the texts that an export shows.
func (b *importing) compareShown(p importer.Proposal, here []string) {
	for i, cell := range p.Shown {
		if isSameCell(cell.Text, here[i]) {
			continue
		}
		b.saved.shown[shownForOf(p.Kind, cell.Name)].add("line %d, %s: %s, here %s", p.Line, cell.Header, cmp.Or(cell.Text, "empty"), cmp.Or(here[i], "none"))
	}
}

// shownFor is why a table doesn't change a column.
type shownFor int

const (
	shownToRead shownFor = iota // a field that names other records, or has many values
	shownChosen                 // a measurement
	shownWorkedOut
	allShownFor
)

func shownForOf(kind entry.Kind, name string) shownFor {
	base, _, _ := strings.Cut(name, ".")
	if k, ok := record.Stored().Kind(kind); ok {
		if _, err := k.FieldByName(base); err == nil {
			return shownToRead
		}
	}
	if _, err := record.MeasureNamed(name); err == nil {
		return shownChosen
	}
	return shownWorkedOut
}

// leftOut tells which columns are left out, and why.
func leftOut(kind entry.Kind, headers []string) []string {
	why := [allShownFor]string{
		shownToRead:    "left out, since it only shows what a record says: ",
		shownChosen:    "left out, since a number needs its source and an export has chosen one among several: ",
		shownWorkedOut: "left out, since it is worked out from the records: ",
	}
	var columns [allShownFor][]string
	for _, header := range headers {
		at := shownForOf(kind, header)
		columns[at] = append(columns[at], header)
	}
	var remarks []string
	for at, some := range columns {
		if len(some) > 0 {
			remarks = append(remarks, why[at]+strings.Join(some, ", "))
		}
	}
	return remarks
}

// isSameCell lets a text come back as spreadsheets save it: numbers without the zeros
// at their end, and breaks of lines in their own way.
func isSameCell(cell, shown string) bool {
	breaks := strings.NewReplacer("\r\n", "\n", "\r", "\n")
	if cell, shown = strings.TrimSpace(breaks.Replace(cell)), strings.TrimSpace(breaks.Replace(shown)); cell == shown {
		return true
	}
	a, err1 := strconv.ParseFloat(cell, 64)
	b, err2 := strconv.ParseFloat(shown, 64)
	return err1 == nil && err2 == nil && a == b
}

// standingIn is all that a field of a group says; with who wrote it where that is not
// the same.
func (b *importing) standingIn(g group, reg record.Register) string {
	have := g.union.Find(reg.Address())
	if have == nil {
		return ""
	}
	var texts, signed []string
	for _, v := range b.field(g, have).Values {
		text := v.Text
		if v.Cleared {
			text = ""
		}
		if by := cmp.Or(text, "empty") + " (" + v.Author.Name + ")"; !slices.Contains(signed, by) {
			signed = append(signed, by)
		}
		if !slices.Contains(texts, text) {
			texts = append(texts, text)
		}
	}
	if len(texts) < 2 {
		return strings.Join(texts, "")
	}
	return strings.Join(signed, " / ")
}
