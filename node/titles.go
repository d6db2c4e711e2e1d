package node

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"plumbline/node/record"
	"plumbline/sync/entry"
)

// author says whose log it is.
func (r *reader) author(log entry.LogID) Author {
	author, known := r.authors[log]
	if !known {
		author = r.authorOf(log)
		r.authors[log] = author
	}
	return author
}

func (r *reader) authorOf(log entry.LogID) Author {
	standing, device, ok := r.n.store.Author(log)
	if !ok {
		return Author{}
	}
	if standing.Root {
		return Author{Name: "the staff's root", Device: device}
	}
	person := standing.Certificate.Person
	return Author{Person: person, Name: r.personName(person), Device: device}
}

func (r *reader) personName(id entry.PersonID) string {
	if name := r.shownText(personRecord(id), "name"); name != "" {
		return name
	}
	return "person " + id.String()[:8]
}

// deviceName is what a laptop calls itself. One that joined and hasn't been met
// since is known by its person alone, whom the pairing named.
func (r *reader) deviceName(person entry.PersonID, id entry.DeviceID) string {
	if name := r.shownText(deviceRecord(person, id), "name"); name != "" {
		return name
	}
	short := "laptop " + id.String()[:8]
	name := r.shownText(personRecord(person), "name")
	switch {
	case name == "":
		return short
	case r.anotherUnnamed(person, id):
		return name + "'s " + short
	}
	return name + "'s laptop"
}

// anotherUnnamed reports whether the person has a second laptop without a name.
func (r *reader) anotherUnnamed(person entry.PersonID, id entry.DeviceID) bool {
	for _, c := range r.n.store.Verdict().Grants {
		other := entry.DeviceOf(c.Device)
		if c.Person == person && other != id && r.shownText(deviceRecord(person, other), "name") == "" {
			return true
		}
	}
	return false
}

// LaptopOf names a person's laptop in a sentence. Many are called after their
// person already.
func LaptopOf(person, laptop string) string {
	if person == "" || len(laptop) >= len(person) && strings.EqualFold(laptop[:len(person)], person) && !beginsWord(laptop[len(person):]) {
		return laptop
	}
	return person + "'s laptop " + strings.TrimPrefix(laptop, "laptop ")
}

func beginsWord(text string) bool {
	r, _ := utf8.DecodeRuneInString(text)
	return unicode.IsLetter(r) || unicode.IsDigit(r)
}

// shownText returns the shown value of one field as text; "" for none.
func (r *reader) shownText(id entry.RecordID, field string) string {
	row, ok := r.row(id)
	if !ok {
		return ""
	}
	reg := record.Must(id.Kind(), field)
	v, ok := shownValue(row.Record, reg)
	if !ok {
		return ""
	}
	return r.text(row.Record, reg, v)
}

func (r *reader) shownRef(id entry.RecordID, field string) entry.RecordID {
	row, ok := r.row(id)
	if !ok {
		return ""
	}
	if v, ok := shownValue(row.Record, record.Must(id.Kind(), field)); ok {
		return entry.RecordID(v.Bytes)
	}
	return ""
}

// title names a record to people in one line.
func (r *reader) title(id entry.RecordID) string {
	id = r.groups.Leader(id)
	if t, ok := r.titles[id]; ok {
		return t
	}
	if isRemembered(id.Kind()) {
		if t, ok := r.n.made.get(id); ok {
			return t
		}
		defer func() {
			if of, ok := r.madeOf(id); ok && r.err == nil {
				r.n.made.put(r.age, id, madeTitle{r.titles[id], of})
			}
		}()
	}
	// Marked before it is known, since references may run in a circle.
	r.titles[id] = shortID(id)
	if t := r.compose(id); t != "" {
		r.titles[id] = t
	}
	return r.titles[id]
}

func (r *reader) compose(id entry.RecordID) string {
	return composeTitle(id.Kind(), func(field string) string { return r.joinedText(id, field) }, func(field string) string {
		if to := r.shownRef(id, field); to.Valid() {
			return r.title(to)
		}
		return ""
	}, func() string { return r.personName(id.Person()) })
}

// composeTitle makes a title of a record's fields, of the titles of what it
// refers to, and of the name of its person; "" where it has none of its own.
func composeTitle(kind entry.Kind, text, refer func(field string) string, person func() string) string {
	join := func(parts ...string) string {
		return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), ", ")
	}
	switch kind {
	case record.Prospect, record.Person, record.Device, record.Factor, record.Staff:
		return text("name")
	case record.Measurement:
		return join(refer("prospect"), between(text("what"), " ", text("reading")))
	case record.Game:
		return join(between(text("away"), " at ", text("home")), text("date"))
	case record.Look:
		return join(refer("prospect"), refer("game"), "seen by "+person())
	case record.Rep:
		return join(titleLead(kind, text), refer("look"))
	case record.Evaluation:
		return join(refer("prospect"), "evaluated by "+person())
	case record.Claim:
		return join(opening(text("text")), refer("evaluation"))
	case record.Note:
		return noteTitle(refer("prospect"), opening(text("text")))
	case record.Flag, record.Assignment:
		return join(nameOf(kind), refer("prospect"))
	}
	return ""
}

// between puts a word between two texts; one alone stands without it.
func between(a, word, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return a + word + b
}

// noteTitle says on whom a note is, and how it begins.
func noteTitle(prospect, begins string) string {
	title := nameOf(record.Note)
	if prospect != "" {
		title += " on " + prospect
	}
	if begins != "" {
		title += ": “" + begins + "”"
	}
	if title == nameOf(record.Note) {
		return ""
	}
	return title
}

// opening is how a text begins, in one line.
func opening(text string) string {
	return record.Shorten(strings.Join(strings.Fields(text), " "))
}

// madeOf returns the records that a remembered title is made of; false where it
// refers to what no title of its kind should.
func (r *reader) madeOf(id entry.RecordID) (of []entry.RecordID, ok bool) {
	of = slices.Clone(r.groups.Members(id))
	if id.Kind() != record.Look {
		return of, true
	}
	for field, kind := range map[string]entry.Kind{"prospect": record.Prospect, "game": record.Game} {
		to := r.shownRef(id, field)
		if to.Valid() && to.Kind() != kind {
			return nil, false
		}
		if to.Valid() {
			of = append(of, r.groups.Members(r.groups.Leader(to))...)
		}
	}
	return append(of, personRecord(id.Person())), true
}

// titleLead is what a title begins with, where that tells most titles apart; it
// spares working out the rest.
func titleLead(kind entry.Kind, text func(field string) string) string {
	if kind == record.Rep {
		return "rep " + text("number")
	}
	return ""
}

// titleFields are the fields that composeTitle asks for, of the kinds that are
// listed from packs.
var titleFields = map[entry.Kind][]string{
	record.Game: {"away", "home", "date"}, record.Look: {"prospect", "game", "by"}, record.Rep: {"number", "look"},
	record.Evaluation: {"prospect", "by"}, record.Flag: {"prospect"}, record.Assignment: {"prospect"},
}

// joinedText is shownText over all records of a group: what people see of it.
func (r *reader) joinedText(id entry.RecordID, field string) string {
	if len(r.groups.Members(r.groups.Leader(id))) == 1 {
		return r.shownText(id, field)
	}
	g, ok := r.group(id)
	if !ok {
		return ""
	}
	return r.shownIn(g, record.Must(id.Kind(), field))
}

// shownIn returns the shown value of a register of a group as text; "" for none.
func (r *reader) shownIn(g group, reg record.Register) string {
	v, ok := shownValue(g.union, reg)
	if !ok {
		return ""
	}
	return r.text(g.union, reg, v)
}

// shortID names a record that nothing else names.
func shortID(id entry.RecordID) string {
	text := id.String()
	return kindName(id) + " " + text[max(0, len(text)-8):]
}
