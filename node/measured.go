package node

import (
	"slices"

	"plumbline/node/record"
	"plumbline/sync/merge"
)

// A measurement's two fields mean something only together: what was measured, and the
// reading, which may name it too. They are read together, and with what stands there.

// measured lets a measurement be typed as one line, or with what apart from the
// reading: what=arm reading="334 verified". In a change the record says what, unless
// the change does.
func measured(k *record.Kind, sets []Set, of *merge.Record) []Set {
	reading := setOf(k, sets, "reading")
	if k.Number != record.Measurement || reading < 0 || sets[reading].JSON != nil || sets[reading].Text == "" {
		return sets
	}
	what, given := setOf(k, sets, "what"), standingText(of, "what")
	if what >= 0 && sets[what].JSON == nil && !sets[what].Clear {
		given = sets[what].Text
	}
	_, name, named := record.MeasureIn(sets[reading].Text)
	sets = slices.Clone(sets)
	switch {
	case given == "" && what < 0 && named:
		sets = append(sets, Set{Field: "what", Text: name})
	case given != "" && (!named || isDigit(name[0])): // of a vertical, 40 1/2 is the number
		sets[reading].Text = given + " " + sets[reading].Text
	}
	return sets
}

// misread refuses a reading of something else than what was measured: its number would
// be taken for another, in another unit maybe. What is stored already stays.
func (w *writer) misread(k *record.Kind, sets []Set, of *merge.Record) error {
	at := setOf(k, sets, "reading")
	if k.Number != record.Measurement || at < 0 && setOf(k, sets, "what") < 0 {
		return nil
	}
	what, ok := w.willStand(k, sets, of, "what")
	reading, both := w.willStand(k, sets, of, "reading")
	if !ok || !both {
		return nil
	}
	if at >= 0 && sets[at].JSON == nil {
		named, name, ok := record.MeasureIn(sets[at].Text)
		if said, err := record.MeasureOf(what); ok && err == nil && said != named {
			return refuse(ErrInvalid, "reading %q: it names %s, and the field what says %s; correct one of the two", record.Shorten(sets[at].Text), name, said)
		}
	}
	if err := record.CheckMeasured(what, reading); err != nil {
		return invalid(err)
	}
	return nil
}

// willStand is the value that a field has after a write; false if there is none, or if
// that is in dispute or can't be read.
func (w *writer) willStand(k *record.Kind, sets []Set, of *merge.Record, field string) (record.Value, bool) {
	if at := setOf(k, sets, field); at >= 0 {
		_, v, err := w.read(k, sets[at])
		return v, err == nil && !sets[at].Clear
	}
	return undisputed(of, record.Must(k.Number, field))
}

// undisputed is the one value of a field.
func undisputed(of *merge.Record, reg record.Register) (record.Value, bool) {
	if of == nil {
		return record.Value{}, false
	}
	if have := of.Find(reg.Address()); have == nil || have.Conflict() {
		return record.Value{}, false
	}
	v, ok := shownValue(of, reg)
	if !ok {
		return v, false
	}
	_, err := reg.Native(v)
	return v, err == nil
}

func standingText(of *merge.Record, field string) string {
	reg := record.Must(record.Measurement, field)
	v, ok := undisputed(of, reg)
	if !ok {
		return ""
	}
	text, err := reg.Text(v)
	if err != nil {
		return ""
	}
	return text
}

// setOf finds the set of a field, by whichever of its names; -1 for none.
func setOf(k *record.Kind, sets []Set, field string) int {
	return slices.IndexFunc(sets, func(s Set) bool {
		f, err := k.FieldByName(s.Field)
		return err == nil && f.Name == field
	})
}

func isDigit(c byte) bool { return '0' <= c && c <= '9' }
