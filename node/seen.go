package node

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// WrittenValue is a value that was written to a field, by the id of its entry.
type WrittenValue struct{ ID, Text string }

// MeantValue finds which of the values that were ever written to a field a person
// names, by an id or the beginning of one, or refuses and lists those that begin so;
// "" if none does. The beginning must reach over the entry's number. All that one
// laptop writes begins alike, so anything shorter would name what somebody has
// written there by now, and not what was read.
func MeantValue(typed string, written []WrittenValue) (string, error) {
	var fits []WrittenValue
	reaches := true
	for _, v := range written {
		if typed != "" && strings.HasPrefix(v.ID, strings.ToLower(typed)) {
			fits = append(fits, v)
			reaches = reaches && len(typed) >= strings.LastIndexByte(v.ID, '.')
		}
	}
	if len(fits) == 0 || len(fits) == 1 && reaches {
		return append(fits, WrittenValue{})[0].ID, nil
	}
	const most = 10
	var lines []string
	for _, v := range fits[:min(len(fits), most)] {
		lines = append(lines, "  "+v.ID+"  "+record.Shorten(cmp.Or(v.Text, "(cleared)")))
	}
	if len(fits) > most {
		lines = append(lines, fmt.Sprintf("and %d more", len(fits)-most))
	}
	listed := strings.Join(lines, "\n")
	if len(fits) > 1 {
		return "", refuse(ErrAmbiguous, "%q fits %d values; name the one that you saw, up to its number at least:\n%s", typed, len(fits), listed)
	}
	return "", refuse(ErrInvalid, "%q is too little of an id to say which value was seen: name it up to its number at least:\n%s", typed, listed)
}

// valueIDs finds the values that a writer names as seen.
func (w *writer) valueIDs(g group, reg entry.Register, named []string) ([]entry.ID, error) {
	var ids []entry.ID
	for _, text := range named {
		id, err := w.valueID(g, reg, text)
		if err != nil {
			return nil, err
		}
		ids = append(ids, id)
	}
	return ids, nil
}

// valueID finds the value that an id, or the beginning of one, names.
func (w *writer) valueID(g group, reg entry.Register, text string) (entry.ID, error) {
	id, err := entry.ParseID(text)
	if err != nil {
		written, err := w.everWritten(g, reg)
		if err != nil {
			return id, err
		}
		meant, err := MeantValue(text, written)
		if err != nil {
			return id, err
		}
		if id, err = entry.ParseID(meant); err != nil {
			return id, refuse(ErrInvalid, "%q names no value of this field: ids stand behind the values in plumbline conflicts and plumbline show --ids", text)
		}
		return id, nil
	}
	held, ok, err := w.n.store.Entry(w.ctx, id)
	if err != nil {
		return id, err
	}
	if !ok || !g.has(held.Header.Record) || !wrote(held, reg) {
		return id, refuse(ErrInvalid, "%s isn't a value that this field has or had: ids stand behind the values in plumbline conflicts and plumbline show --ids", text)
	}
	return id, nil
}

// everWritten reads the values that were ever written to a field, those that were
// replaced too: a short id mustn't come to name another one by that.
func (w *writer) everWritten(g group, reg entry.Register) ([]WrittenValue, error) {
	var all []WrittenValue
	for _, m := range g.members {
		history, err := w.n.store.History(w.ctx, m.ID)
		if err != nil {
			return nil, err
		}
		for _, e := range history {
			if !wrote(e, reg) {
				continue
			}
			fields := w.revision(e).Fields
			at := slices.IndexFunc(e.Body.Changes, func(c entry.Change) bool { return c.Register == reg })
			all = append(all, WrittenValue{ID: e.ID.String(), Text: fields[at].Text})
		}
	}
	return all, w.err
}

// wrote reports whether an entry wrote to a register.
func wrote(e storage.HistoryEntry, reg entry.Register) bool {
	return slices.ContainsFunc(e.Body.Changes, func(c entry.Change) bool { return c.Register == reg })
}

// unseen words the refusal with all that is needed to repeat the write.
func (w *writer) unseen(what string, g group, have *merge.Register) error {
	lines, ids := w.valueLines(g, have)
	return refuse(ErrUnseen, "%s:\n%s\nto replace it, say that you saw it: --seen %s", what, lines, strings.Join(ids, ","))
}

func (w *writer) disputed(g group, reg record.Register, have *merge.Register) error {
	lines, _ := w.valueLines(g, have)
	return refuse(ErrDisputed, "%s of %s is in conflict:\n%s\nsettle it: plumbline settle %s %s --choose ID, or --value TEXT",
		reg.Path(), w.title(g.leader), lines, g.leader, reg.Path())
}

func (w *writer) valueLines(g group, have *merge.Register) (string, []string) {
	f := w.field(g, have)
	var lines, ids []string
	for _, v := range f.Values {
		text := v.Text
		if v.Cleared {
			text = "(cleared)"
		}
		lines = append(lines, fmt.Sprintf("  %s  (%s, %s)  %s", text, v.Author.Name, v.Written.Format("2006-01-02 15:04"), v.ID))
		ids = append(ids, v.ID.String())
	}
	return strings.Join(lines, "\n"), ids
}
