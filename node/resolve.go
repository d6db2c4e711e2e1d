package node

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
)

// resolve finds the record that a person means: by its id, by the beginning of
// it, by its exact name, or by the title that lists print. kind narrows it; 0 for any.
func (r *reader) resolve(kind entry.Kind, typed string) (entry.RecordID, error) {
	typed = strings.TrimSpace(typed)
	found, err := r.matching(kind, typed)
	if err != nil {
		return "", err
	}
	if len(found) > 1 && !slices.ContainsFunc(found, func(id entry.RecordID) bool { return r.groups.Leader(id) != r.groups.Leader(found[0]) }) {
		return r.groups.Leader(found[0]), nil // of joined records, any leads to the one that they are
	}
	return r.one(kind, typed, found)
}

// one is the record that was found, if it is one.
func (r *reader) one(kind entry.Kind, typed string, found []entry.RecordID) (entry.RecordID, error) {
	switch len(found) {
	case 0:
		return "", refuse(ErrNotFound, "no %s is called %q, and no id begins with it%s", kindOr(kind, "record"), typed, r.hint(kind, typed))
	case 1:
		return found[0], nil
	}
	return "", r.ambiguous(kind, typed, found, ShortIDs)
}

// matching finds what may be meant, in the first of these ways that finds anything.
func (r *reader) matching(kind entry.Kind, typed string) ([]entry.RecordID, error) {
	if id, err := entry.ParseRecordID(typed); err == nil && (kind == 0 || id.Kind() == kind) {
		return []entry.RecordID{id}, nil
	}
	for _, way := range []func(entry.Kind, string) ([]entry.RecordID, error){r.named, r.prefixed, r.titled, r.retired} {
		if found, err := way(kind, typed); err != nil || len(found) > 0 {
			return found, err
		}
	}
	return nil, nil
}

func kindOr(kind entry.Kind, otherwise string) string {
	if k, ok := record.Stored().Kind(kind); ok {
		return k.Name
	}
	return otherwise
}

func (r *reader) ambiguous(kind entry.Kind, typed string, found []entry.RecordID, given func(ids ...string) []string) error {
	found = slices.Sorted(slices.Values(found)) // alike on every laptop
	const most = 10
	more := ""
	if len(found) > most {
		more = fmt.Sprintf("\nand %d more", len(found)-most)
	}
	return refuse(ErrAmbiguous, "%q fits %d %ss; name one by its id:\n%s%s", typed, len(found), kindOr(kind, "record"), r.choices(found[:min(len(found), most)], given), more)
}

// maxNamed bounds how many records a name is looked for in.
const maxNamed = 200

// named finds visible records whose name is exactly this, by groups. Only kinds
// that have names are searched: who is written about in ten thousand reps isn't
// to be looked for among them.
func (r *reader) named(kind entry.Kind, typed string) ([]entry.RecordID, error) {
	var found []entry.RecordID
	for _, k := range record.Stored().Kinds() {
		if _, err := k.FieldByName("name"); err != nil || kind != 0 && kind != k.Number {
			continue
		}
		ids, err := r.n.store.Search(r.ctx, typed, k.Number, maxNamed)
		if err != nil {
			return nil, err
		}
		for _, id := range ids {
			leader := r.groups.Leader(id)
			if !slices.Contains(found, leader) && strings.EqualFold(r.shownText(id, "name"), typed) {
				found = append(found, leader)
			}
		}
	}
	return found, r.err
}

// minPrefix is the least of an id that is taken for one, in characters: all ids of a
// kind share the first four and most of the fifth.
const minPrefix = 6

// prefixed finds records by the beginning of their id. Those that are in sight count
// before those that were retired.
func (r *reader) prefixed(kind entry.Kind, typed string) ([]entry.RecordID, error) {
	first, last, ok := entry.RecordsFrom(typed)
	if !ok || len(typed) < minPrefix {
		return nil, nil
	}
	ids, err := r.n.store.Between(r.ctx, first, last, maxNamed)
	if err != nil {
		return nil, err
	}
	ids = slices.DeleteFunc(ids, func(id entry.RecordID) bool { return kind != 0 && id.Kind() != kind })
	hidden := slices.IndexFunc(ids, func(id entry.RecordID) bool {
		row, ok := r.row(id)
		return ok && !shown(row)
	})
	if hidden > 0 {
		ids = ids[:hidden]
	}
	return ids, r.err
}

// retired finds records that were retired by their name: they are named to be
// kept, or to be read once more.
func (r *reader) retired(kind entry.Kind, typed string) ([]entry.RecordID, error) {
	var found []entry.RecordID
	for _, k := range record.Stored().Kinds() {
		if _, err := k.FieldByName("name"); err != nil || kind != 0 && kind != k.Number {
			continue
		}
		for row, err := range r.n.store.Records(r.ctx, storage.Query{Kind: k.Number, Hidden: true}) {
			if err != nil {
				return nil, err
			}
			if shown(row) {
				continue
			}
			r.rows[row.ID] = row
			if leader := r.groups.Leader(row.ID); !slices.Contains(found, leader) && strings.EqualFold(r.shownText(row.ID, "name"), typed) {
				found = append(found, leader)
			}
		}
	}
	return found, r.err
}

func (r *reader) hint(kind entry.Kind, typed string) string {
	words := strings.Fields(typed)
	if len(words) == 0 {
		return ""
	}
	ids, err := r.n.store.Search(r.ctx, words[len(words)-1], kind, 3)
	if err != nil || len(ids) == 0 {
		return ""
	}
	var near []string
	for _, id := range ids {
		near = append(near, r.title(id))
	}
	return "; near it: " + strings.Join(near, "; ")
}

// find resolves a name to a record that is held.
func (r *reader) find(kind entry.Kind, typed string) (group, error) {
	if err := r.n.staffed(); err != nil {
		return group{}, err
	}
	id, err := r.resolve(kind, typed)
	if err != nil {
		return group{}, err
	}
	g, ok := r.group(id)
	if !ok {
		return group{}, errors.Join(r.err, refuse(ErrNotFound, "no record has the id %s here; if it was written on another laptop, it hasn't come over yet", id))
	}
	return g, r.err
}

// personNamed finds a person by name or id; a name that nobody has becomes a
// new person.
func (n *Node) personNamed(ctx context.Context, name string) (id entry.PersonID, known bool, err error) {
	id, err = entry.ParsePersonID(name)
	if of, notOne := entry.ParseRecordID(name); notOne == nil && of.Kind() == record.Person {
		id, err = entry.PersonID([]byte(of[3:])), nil
	}
	if err == nil {
		if _, err := n.store.Record(ctx, personRecord(id)); !errors.Is(err, storage.ErrNoRecord) {
			return id, err == nil, err
		}
		return id, false, refuse(ErrNotFound, "nobody on the staff has the id %s", name)
	}
	r := n.reader(ctx)
	found, err := r.named(record.Person, name)
	switch {
	case err != nil || len(found) == 0:
		return entry.PersonID{}, false, err
	case len(found) > 1:
		return entry.PersonID{}, false, r.ambiguous(record.Person, name, found, ShortIDs)
	}
	return entry.PersonID([]byte(found[0][3:])), true, nil
}
