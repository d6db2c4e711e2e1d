package node

import (
	"slices"
	"strings"

	"plumbline/node/record"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// titled finds records by the title that lists print, of the kinds whose titles are
// made of their fields. Those in sight come before those that were retired. Nothing is
// read through for it: a game is found by its words, the rest among the few records
// that refer to what their title names.
func (r *reader) titled(kind entry.Kind, typed string) ([]entry.RecordID, error) {
	var found, hidden []entry.RecordID
	consider := func(id entry.RecordID) {
		id = r.groups.Leader(id)
		g, ok := r.group(id)
		if !ok || !strings.EqualFold(r.title(id), typed) || slices.Contains(found, id) || slices.Contains(hidden, id) {
			return
		}
		if g.visibility() == merge.Hidden {
			hidden = append(hidden, id)
		} else {
			found = append(found, id)
		}
	}
	if kind == 0 || kind == record.Game {
		games, err := r.n.store.SearchAll(r.ctx, gameWords(typed), record.Game, maxNamed)
		if err != nil {
			return nil, err
		}
		for _, id := range games {
			consider(id)
		}
	}
	for _, of := range titlesAround {
		if kind != 0 && kind != of.kind {
			continue
		}
		if err := r.referring(of, typed, consider); err != nil {
			return nil, err
		}
	}
	if len(found) == 0 {
		found = hidden
	}
	return found, r.err
}

// gameWords are the words of a game's title by which it is searched: the schools.
func gameWords(title string) string {
	schools, _, dated := strings.Cut(title, ", ")
	if !dated {
		schools = title
	}
	return strings.ReplaceAll(schools, " at ", " ")
}

// titleAround is a kind whose titles have the title of another record in them.
type titleAround struct {
	kind, within entry.Kind
	parts        func(title string) []string // what of it may be that title
}

// titlesAround goes with composeTitle.
var titlesAround = []titleAround{
	{record.Measurement, record.Prospect, heads},
	{record.Look, record.Prospect, heads},
	{record.Evaluation, record.Prospect, heads},
	{record.Flag, record.Prospect, tailBehind(nameOf(record.Flag) + ", ")},
	{record.Assignment, record.Prospect, tailBehind(nameOf(record.Assignment) + ", ")},
	{record.Note, record.Prospect, noted},
	{record.Rep, record.Look, repsLook},
	{record.Claim, record.Evaluation, tails},
}

// referring hands over the records of a kind that refer to one that the title names.
func (r *reader) referring(of titleAround, title string, consider func(entry.RecordID)) error {
	for _, part := range of.parts(title) {
		find := r.titled
		if of.within == record.Prospect {
			find = r.named
		}
		within, err := find(of.within, part)
		if err != nil {
			return err
		}
		for _, leader := range within {
			for _, member := range r.groups.Members(leader) {
				rows, err := r.n.store.Referring(r.ctx, member, of.kind)
				if err != nil {
					return err
				}
				for _, row := range rows {
					consider(row.ID)
				}
			}
		}
	}
	return nil
}

// heads are the beginnings of a title before a comma: names may have some, too.
func heads(title string) []string {
	var all []string
	for at := range title {
		if strings.HasPrefix(title[at:], ", ") {
			all = append(all, title[:at])
		}
	}
	return all[:min(len(all), manyParts)]
}

// tails are the ends of a title behind a comma, the shortest first.
func tails(title string) []string {
	var all []string
	for at := range title {
		if strings.HasPrefix(title[at:], ", ") {
			all = append(all, title[at+2:])
		}
	}
	slices.Reverse(all)
	return all[:min(len(all), manyParts)]
}

// manyParts bounds how often a title is taken apart: what is typed may be any text.
const manyParts = 8

func tailBehind(lead string) func(title string) []string {
	return func(title string) []string {
		if len(title) < len(lead) || !strings.EqualFold(title[:len(lead)], lead) {
			return nil
		}
		return []string{title[len(lead):]}
	}
}

// noted is whom a note's title names. Its text, in quotes, is left out.
func noted(title string) []string {
	who := tailBehind(nameOf(record.Note) + " on ")(title)
	for i := range who {
		who[i], _, _ = strings.Cut(who[i], ": “")
	}
	return who
}

// repsLook is what comes behind a rep's number.
func repsLook(title string) []string {
	number, look, ok := strings.Cut(title, ", ")
	if !ok || len(tailBehind(titleLead(record.Rep, func(string) string { return "" }))(number)) == 0 {
		return nil
	}
	return []string{look}
}
