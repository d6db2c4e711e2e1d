package node

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"plumbline/node/importer"
	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
)

// A row that enters a prospect may be about one who is here already: entered by hand,
// from another list, or exported without what this list knows them by. Two players
// may also share a name. So whoever imports is asked, and nothing is guessed.

// errAsked is returned for a row that is to be asked about.
var errAsked = errors.New("another prospect has this name")

// maxNamesakes bounds how many of them an import tells.
const maxNamesakes = 100

// orNamesake returns the record of a row that enters a prospect: that of its own key,
// or the one who has its name, as the request says.
func (b *importing) orNamesake(p importer.Proposal, otherwise entry.RecordID) (entry.RecordID, error) {
	if p.Kind != record.Prospect || p.Mention || p.AnotherOne || b.namesakes == NewNamesakes || b.erased(otherwise) {
		return otherwise, b.err
	}
	row := rowSketch(p)
	found := b.namesakesOf(row)
	switch {
	case len(found) == 0 || b.err != nil:
		return otherwise, b.err
	case b.namesakes == AskAboutNamesakes:
		b.report.NamesakeRows++
		for _, one := range found {
			if len(b.report.Namesakes) < maxNamesakes {
				b.report.Namesakes = append(b.report.Namesakes, Namesake{Line: p.Line, Row: row.String(), Record: one.id, Standing: one.String()})
			}
		}
		return "", errAsked
	case len(found) > 1:
		var known []string
		for _, one := range found {
			known = append(known, fmt.Sprintf("%s (%s)", one, one.id))
		}
		return "", refuse(ErrAmbiguous, "%d prospects here have this name: %s; write the id of the one who is meant, or %s, in a column %q",
			len(found), strings.Join(known, ", "), importer.AnotherOne, importer.RecordColumn)
	}
	b.whole[naturalKey{p.Kind, p.NaturalKey}] = true
	return found[0].id, b.err
}

// namesakesOf finds the prospects who have a name, and of whom nothing is known that
// speaks against it: not the position, which changes.
func (b *importing) namesakesOf(row namesake) []namesake {
	if row.words == "" {
		return nil
	}
	if b.names == nil {
		b.names = b.prospectNames()
	}
	var found []namesake
	for _, id := range b.names[row.words] {
		g, ok := b.group(id)
		if !ok {
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

// prospectNames are all who are here, by the words of their names.
func (b *importing) prospectNames() map[string][]entry.RecordID {
	names := map[string][]entry.RecordID{}
	for stored, err := range b.n.store.Records(b.ctx, storage.Query{Kind: record.Prospect}) {
		if err != nil {
			b.fail(err)
			break
		}
		reg := record.Must(record.Prospect, "name")
		v, ok := shownValue(stored.Record, reg)
		if !ok {
			continue
		}
		name, err := reg.Text(v)
		leader := b.groups.Leader(stored.ID)
		if words := nameWords(fold(name)); err == nil && words != "" && !slices.Contains(names[words], leader) {
			names[words] = append(names[words], leader)
		}
	}
	return names
}

// namesakeFields are what tells two of one name apart, in the order in which it is said.
var namesakeFields = [...]string{"name", "position", "school", "class_year"}

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
