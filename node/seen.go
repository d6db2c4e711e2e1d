package node

import (
	"fmt"
	"slices"
	"strings"

	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// named reports whether a typed text is an entry's id or the beginning of it. It
// must reach into the hash: the log alone, or the number, would name whatever
// its author has written there by now.
func named(id entry.ID, typed string) bool {
	full := id.String()
	return len(typed) >= strings.LastIndexByte(full, '.')+1+minHash && strings.HasPrefix(full, strings.ToLower(typed))
}

// minHash is the least of an entry's hash that is taken for it, in characters.
const minHash = 4

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
	if have := g.union.Find(reg); have != nil {
		var fits []entry.ID
		for _, v := range have.Live {
			if named(v.ID, text) {
				fits = append(fits, v.ID)
			}
		}
		if len(fits) == 1 {
			return fits[0], nil
		}
	}
	id, err := entry.ParseID(text)
	if err != nil {
		return id, refuse(ErrInvalid, "%q names no value of this field: ids stand behind the values in plumbline conflicts and plumbline show --ids", text)
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
