package demo

// Edit is one thing that a person types, offline: a new record of a kind, or a
// change to the prospect that is named.
type Edit struct {
	Kind   string // of a new record
	Record string // else the name of the one that is changed
	Sets   []Set
}

// Set is one field as it is typed.
type Set struct{ Field, Text string }

// Dispute is a fact that two people have written differently without having seen
// each other's writing.
type Dispute struct{ Record, Field string }

// Edits returns what a person types after the import, in order.
func (w *World) Edits(person PersonIndex) []Edit {
	switch person {
	case Director:
		return rubric()
	case w.Twice.By[0]:
		return w.firstScout()
	case w.Twice.By[1]:
		return w.secondScout()
	}
	return nil
}

// disputed gives one of the prospects that everybody lists, so that both scouts
// have read the same of him before they write.
func (w *World) disputed(n int) Prospect {
	for _, p := range w.Prospects {
		if p.Shared {
			if n--; n < 0 {
				return p
			}
		}
	}
	panic("demo: too small a class to disagree about")
}

// Disputes lists the conflicts that the edits make: a number, a word, a choice
// and a text. The third is a lineman.
func (w *World) Disputes() []Dispute {
	return []Dispute{
		{w.disputed(1).Name, "jersey"}, {w.disputed(2).Name, "hometown"}, {w.disputed(4).Name, "position"}, {w.disputed(0).Name, "note"},
	}
}

func (w *World) firstScout() []Edit {
	d := w.Disputes()
	return []Edit{
		change(d[0], otherJersey(w.disputed(1).Jersey, 0)),
		change(d[1], town(3)),
		change(d[3], "Coaches trust him with the calls. Ask for the practice film."),
		w.twiceAdded(w.Twice.First, "62"),
		twiceMeasured(w.Twice.First, "height 6036 verified 2026-10-14"),
	}
}

func (w *World) secondScout() []Edit {
	d := w.Disputes()
	return []Edit{
		change(d[0], otherJersey(w.disputed(1).Jersey, 1)),
		change(d[1], town(11)),
		change(d[2], "guard"),
		change(d[3], "Plays through the whistle. Watch the second half against a heavy front."),
		w.twiceAdded(w.Twice.Second, ""),
		twiceMeasured(w.Twice.Second, "arm 334 verified 2026-10-21"),
	}
}

func change(d Dispute, text string) Edit {
	return Edit{Record: d.Record, Sets: []Set{{d.Field, text}}}
}

// otherJersey is a number that isn't the listed one.
func otherJersey(listed string, n int) string {
	numbers := []string{"24", "42", "14"}
	kept := numbers[:0:0]
	for _, number := range numbers {
		if number != listed {
			kept = append(kept, number)
		}
	}
	return kept[n]
}

func (w *World) twiceAdded(name, jersey string) Edit {
	e := Edit{Kind: "prospect", Sets: []Set{
		{"name", name}, {"position", w.Twice.Position}, {"school", w.Twice.School}, {"class_year", "2027"},
	}}
	if jersey != "" {
		e.Sets = append(e.Sets, Set{"jersey", jersey})
	}
	return e
}

func twiceMeasured(name, reading string) Edit {
	return Edit{Kind: "measurement", Sets: []Set{{"prospect", name}, {"reading", reading}}}
}
