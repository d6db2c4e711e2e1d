package node

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"plumbline/node/importer"
	"plumbline/node/record"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// A row that enters a prospect may be about one who is here already: entered by hand,
// from another list, or exported without what this list knows them by. Two players
// may also share a name. So whoever imports is asked, and nothing is guessed.

// errAsked is returned for a row that is to be asked about.
var errAsked = errors.New("another prospect has this name")

// maxNamesakes bounds how many of them an import tells.
const maxNamesakes = 100

// entersName reports whether a row would enter a prospect by name: one of whom nothing
// is here, or only what other tables have named him by.
func (b *importing) entersName(p importer.Proposal, id entry.RecordID) bool {
	if p.Kind != record.Prospect || p.Mention || p.AnotherOne || b.erased(id) {
		return false
	}
	if !b.known(id) {
		return true
	}
	if p.Record != "" || b.shownText(id, "name") != "" {
		return false
	}
	g, ok := b.group(id)
	return ok && b.shownIn(g, record.Must(record.Prospect, "name")) == ""
}

// orNamesake asks about a row that enters a prospect, under an id, who has the name of
// one who is here, or takes the row for that one, as the request says.
func (b *importing) orNamesake(p importer.Proposal, id entry.RecordID) error {
	if b.namesakes == NewNamesakes || !b.entersName(p, id) {
		return b.err
	}
	row := rowSketch(p)
	found := b.namesakesOf(row, id)
	switch {
	case len(found) == 0 || b.err != nil:
		return b.err
	case b.namesakes == AskAboutNamesakes:
		b.report.NamesakeRows++
		for _, one := range found {
			if len(b.report.Namesakes) < maxNamesakes {
				b.report.Namesakes = append(b.report.Namesakes, Namesake{Line: p.Line, Row: row.String(), Record: one.id, Standing: one.String()})
			}
		}
		return errAsked
	case len(found) > 1:
		var known []string
		for _, one := range found {
			known = append(known, fmt.Sprintf("%s (%s)", one, one.id))
		}
		return refuse(ErrAmbiguous, "%d prospects here have this name: %s; write the id of the one who is meant, or %s, in a column %q",
			len(found), strings.Join(known, ", "), importer.AnotherOne, importer.RecordColumn)
	}
	b.matched[naturalKey{p.Kind, p.NaturalKey}] = found[0].id
	return b.err
}

// remember enters what a row says under the row's own id, and that this is one with
// whom it was matched to: whatever becomes of the values, every later table of the list
// finds them by their key, on all laptops. What the list said of them before, under
// another key, is replaced where it stands.
func (b *importing) remember(p importer.Proposal, own entry.RecordID, changes []placed) []placed {
	changes = slices.DeleteFunc(changes, func(c placed) bool { return len(c.Replaces) == 0 })
	conflicts := b.report.Conflicts // they were counted among all that is one
	have, ok := b.row(own)
	for _, f := range p.Fields {
		changes, _ = b.change(changes, p, group{leader: own, members: []row{have}, union: have.Record}, ok, f)
	}
	b.report.Conflicts = conflicts
	return changes
}

// joinMatched says that a row's own record is one with whom it was matched to.
func (b *importing) joinMatched(p importer.Proposal, own entry.RecordID) error {
	to, ok := b.matched[naturalKey{p.Kind, p.NaturalKey}]
	if !ok {
		return b.err
	}
	_, err := b.say(own, to, merge.Yes, nil)
	return err
}

// namesakesOf finds the prospects who have a name, and of whom nothing is known that
// speaks against it: not the position, which changes. Nor has anybody said that they aren't
// who the row is about.
func (b *importing) namesakesOf(row namesake, own entry.RecordID) []namesake {
	if row.words == "" {
		return nil
	}
	var found []namesake
	for _, id := range b.prospects().byName[row.words] {
		g, ok := b.group(id)
		if !ok || b.known(own) && b.decided(b.groups.Leader(own), g.leader) {
			continue
		}
		one := namesake{id: g.leader, words: row.words}
		for i, field := range namesakeFields {
			one.said[i] = b.shownIn(g, record.Must(record.Prospect, field))
		}
		if !differ(fold(one.said[2]), fold(row.said[2])) && !differ(fold(one.said[3]), fold(row.said[3])) {
			found = append(found, one)
		}
	}
	return found
}

// namesake is a prospect as a row or a record says who it is.
type namesake struct {
	id    entry.RecordID
	words string
	said  [len(namesakeFields)]string
}

func rowSketch(p importer.Proposal) namesake {
	var row namesake
	for i, field := range namesakeFields {
		for _, f := range p.Fields {
			if text, err := f.Register.Text(f.Value); err == nil && f.Register.Field.Name == field {
				row.said[i] = text
			}
		}
	}
	row.words = nameWords(fold(row.said[0]))
	return row
}

func (s namesake) String() string {
	said := slices.DeleteFunc(slices.Clone(s.said[:]), func(text string) bool { return text == "" })
	return strings.ReplaceAll(strings.Join(said, ", "), "_", " ")
}
