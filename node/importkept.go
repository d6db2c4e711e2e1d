package node

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"plumbline/node/importer"
	"plumbline/node/record"
	"plumbline/sync/merge"
)

// savedRows are cells of exported rows that change nothing, though they differ from
// what stands, and rows whose records aren't here: a person is told of them.
type savedRows struct {
	former, earlier, empty, beside, strangers cellNotes
	// shown are cells of columns that a table doesn't change.
	shown [allShownFor]cellNotes
	// waiting are the rows of prospects, until it is known what an export shows of them.
	waiting []importer.Proposal
	joined  joinedRows
}

// cellNotes are the first of what there is to tell, and how many there are in all.
type cellNotes struct {
	first []string
	total int
}

// maxCellsTold bounds how many cells one remark names.
const maxCellsTold = 5

// stoodBefore notes a cell that says what stood there once. Of a list that wasn't
// exported it is no news that it says what somebody has corrected since; but where the
// list itself said something else since, the table may be its oldest or its newest.
func (b *importing) stoodBefore(p importer.Proposal, g group, f importer.FieldValue) {
	if f.IsRef() || p.Record == "" && !b.isOfList(g, f.Register) {
		return
	}
	text, err := f.Register.Text(f.Value)
	if err != nil {
		b.fail(err)
	}
	notes := &b.saved.former
	if p.Record == "" {
		notes = &b.saved.earlier
	}
	notes.add("line %d, %s: %s, now %s", p.Line, f.Register.Path(), text, cmp.Or(b.standingIn(g, f.Register), "empty"))
}

// isOfList reports whether all that stands in a field comes from the list that is read.
func (b *importing) isOfList(g group, reg record.Register) bool {
	have := g.union.Find(reg.Address())
	return have != nil && !slices.ContainsFunc(have.Live, func(v merge.Value) bool { return v.Source != b.source })
}

// noteKept notes the empty cells of a row where a value stands, and a row whose
// record isn't here yet.
func (b *importing) noteKept(p importer.Proposal, g group) {
	if p.Record == "" {
		return
	}
	if g.union == nil {
		b.saved.strangers.add("line %d: %s", p.Line, b.words(p))
		return
	}
	b.noteShown(p, g)
	for _, reg := range p.Beside {
		b.saved.beside.add("line %d, %s: %s", p.Line, reg.Path(), b.standingIn(g, reg))
	}
	for _, reg := range p.Empty {
		if text := b.standingIn(g, reg); text != "" {
			b.saved.empty.add("line %d, %s: %s", p.Line, reg.Path(), text)
		}
	}
}

func (n *cellNotes) add(format string, args ...any) {
	if n.total++; n.total <= maxCellsTold {
		n.first = append(n.first, fmt.Sprintf(format, args...))
	}
}

func (n cellNotes) String() string {
	text := strings.Join(n.first, "; ")
	if more := n.total - len(n.first); more > 0 {
		text += fmt.Sprintf("; and %d more", more)
	}
	return text
}

// remarkOnSaved tells what was noted.
func (b *importing) remarkOnSaved() {
	for _, told := range []struct {
		notes cellNotes
		what  string
	}{
		{b.saved.former, "left as it is, since the table says what stood there before somebody changed it: %s. Who wants that back sets it on the record"},
		{b.saved.earlier, "left as it is, since this list said so before, and has said something else since: %s. Who wants that back sets it on the record"},
		{b.saved.beside, "left as it is, since what the table says stands there already, beside other values: %s. Who wants one of them alone settles the field"},
		{b.saved.empty, "left as it is, since an empty cell clears nothing: %s. Who wants it gone clears it on the record"},
		{b.saved.shown[shownToRead], "left as it is, since these columns only show what a record says: %s. Who wants it changed sets it on the record"},
		{b.saved.shown[shownWorkedOut], "left out, though it isn't what is worked out from the records here: %s"},
		{b.saved.shown[shownChosen], "left as it is, since a number needs its source and an export has chosen one among several: %s. To enter a new one, add a column source and leave only what is new"},
		{b.saved.strangers, "entered under the ids that the table gives, since they aren't here yet: %s. Where others have them, they are one once the laptops meet"},
	} {
		if told.notes.total > 0 {
			b.report.Remarks = append(b.report.Remarks, fmt.Sprintf(told.what, told.notes))
		}
	}
}
