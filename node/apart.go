package node

import (
	"slices"
	"strings"

	"plumbline/node/record"
	"plumbline/sync/entry"
)

// namesakeFields are what tells two of one name apart, in the order in which it is said.
var namesakeFields = [...]string{"name", "position", "school", "class_year"}

// apartFields are what is said beside the title of a record, by kind, where several
// may be meant.
var apartFields = map[string][]string{
	nameOf(record.Prospect): append(slices.Clone(namesakeFields[1:]), "jersey", "hometown"),
	nameOf(record.Person):   {"title", "position", "region"},
	// Their titles are made of their other fields, so that several have the same.
	nameOf(record.Measurement): {"date"},
	nameOf(record.Game):        {"season", "week", "note"},
	nameOf(record.Look):        {"mode", "date", "note"},
	nameOf(record.Rep):         {"clip", "quarter", "clock", "play"},
	nameOf(record.Evaluation):  {"overall", "filed"},
	nameOf(record.Note):        {"date"},
	nameOf(record.Flag):        {"about", "ask"},
	nameOf(record.Assignment):  {"person", "due"},
}

// behindName are numbers and places that say nothing by themselves, so that they stand
// behind their field's name.
var behindName = []string{"jersey", "hometown", "season", "week", "quarter", "overall", "filed", "due"}

// Apart says what tells a record of a kind from others of its name, of what text
// gives for its fields; "" if nothing does.
func Apart(kind string, text func(field string) string) string {
	var said []string
	for _, field := range apartFields[kind] {
		switch shown := text(field); {
		case shown == "":
		case slices.Contains(behindName, field):
			said = append(said, field+" "+shown)
		default:
			said = append(said, record.Shorten(shown))
		}
	}
	return strings.ReplaceAll(strings.Join(said, ", "), "_", " ")
}

// shortest is how much of an id is shown at least where several are to be told apart:
// seven characters of what is drawn, behind those that all of a kind share.
const shortest = 12

// ShortIDs gives the beginnings by which records can be named, in the order of the ids:
// long enough to tell them from each other. What a person owns keeps its whole id, since
// all of theirs begin alike.
func ShortIDs(ids ...string) []string {
	short := make([]string, len(ids))
	for i, id := range ids {
		n := min(shortest, len(id))
		for n < len(id) && slices.ContainsFunc(ids, func(other string) bool { return other != id && strings.HasPrefix(other, id[:n]) }) {
			n++
		}
		if parsed, err := entry.ParseRecordID(id); err != nil || parsed.Class() == entry.Owned {
			n = len(id)
		}
		short[i] = id[:n]
	}
	return short
}

func wholeIDs(ids ...string) []string { return ids }

// choices lists records one of which is meant: the id as it can be given there, the
// title, and what tells each from the others.
func (r *reader) choices(found []entry.RecordID, given func(ids ...string) []string) string {
	ids, lines := make([]string, len(found)), make([]string, len(found))
	for i, id := range found {
		ids[i] = id.String()
	}
	for i, text := range given(ids...) {
		id := found[i]
		lines[i] = "  " + text + "  " + r.title(id)
		if slices.ContainsFunc(found, func(other entry.RecordID) bool { return other.Kind() != id.Kind() }) {
			lines[i] += " (" + kindName(id) + ")"
		}
		g, ok := r.group(id)
		if !ok {
			continue
		}
		if said := Apart(kindName(id), func(field string) string { return r.shownIn(g, record.Must(id.Kind(), field)) }); said != "" {
			lines[i] += ", " + said
		}
	}
	return strings.Join(lines, "\n")
}
