package node

import (
	"bytes"
	"context"
	"encoding/base32"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"

	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Write adds and changes records, all of it in one transaction. It returns
// their ids in the order of the writes, once everything is durable.
func (n *Node) Write(ctx context.Context, writes []Write) ([]entry.RecordID, error) {
	w, err := n.begin(ctx)
	if err != nil {
		return nil, err
	}
	ids := make([]entry.RecordID, len(writes))
	for i, write := range writes {
		if ids[i], err = w.add(write); err != nil {
			return nil, err
		}
	}
	return ids, w.save()
}

// writer turns what people ask for into drafts.
type writer struct {
	*reader
	cert   entry.Certificate
	drafts []Draft
	// written are the fields of this transaction: what it writes twice would
	// dispute itself.
	written map[entry.RecordID]map[entry.Register]bool
}

// once refuses to write a field twice in one transaction.
func (w *writer) once(id entry.RecordID, reg record.Register) error {
	if w.written[id][reg.Address()] {
		return refuse(ErrInvalid, "%s is given twice: leave one out", reg.Path())
	}
	if w.written[id] == nil {
		w.written[id] = map[entry.Register]bool{}
	}
	w.written[id][reg.Address()] = true
	return nil
}

func (w *writer) save() error {
	if w.err != nil || len(w.drafts) == 0 {
		return w.err
	}
	return failure(w.n.step(Save{Drafts: w.drafts}).Err)
}

// draft files a change under its record: an entry is about one record.
func (w *writer) draft(id entry.RecordID, source string, changes ...entry.Change) error {
	if !merge.MayWrite(w.cert, id) {
		return w.noRight(id)
	}
	if w.n.store.Verdict().Erasures.Record(id) {
		return refuse(ErrInvalid, "this %s was erased by a director, and what is written to it counts nowhere: add it anew, under an id of its own", kindName(id))
	}
	w.drafts = append(w.drafts, Draft{Record: id, Body: entry.Body{Kind: entry.KindChanges, Source: source, Changes: changes}})
	return nil
}

func (w *writer) noRight(id entry.RecordID) error {
	if id.Class() == entry.Owned {
		return refuse(ErrRights, "this %s is %s's: only they can change it. Write one of your own", kindName(id), w.personName(id.Person()))
	}
	return refuse(ErrRights, "only a director may write a %s", kindName(id))
}

func (w *writer) add(write Write) (entry.RecordID, error) {
	if write.Record != "" {
		g, err := w.find(kindNumber(write.Kind), write.Record)
		if err != nil {
			return "", err
		}
		return g.leader, w.change(g, write.Sets)
	}
	k, err := record.Stored().KindByName(write.Kind)
	if err != nil {
		return "", refuse(ErrInvalid, "%v", err)
	}
	id, err := w.newID(k, write.NewID)
	if err != nil {
		return "", err
	}
	if g, ok := w.group(id); ok {
		return id, w.retried(g, k, write.Sets)
	}
	changes, err := w.first(id, k, write.Sets)
	if err != nil {
		return "", err
	}
	return id, w.draft(id, "", changes...)
}

// retried answers a write of a new record that is there already. What its
// writer wrote at the first attempt isn't written again, whatever became of it.
func (w *writer) retried(g group, k *record.Kind, sets []Set) error {
	history, err := w.n.store.History(w.ctx, g.leader)
	if err != nil {
		return err
	}
	var others []Set
	for _, set := range measured(k, sets) {
		reg, v, err := w.read(k, set)
		if err != nil {
			return err
		}
		wrote := slices.ContainsFunc(history, func(e storage.HistoryEntry) bool {
			return w.own(e) && slices.ContainsFunc(e.Body.Changes, func(c entry.Change) bool {
				return c.Register == reg.Address() && c.Op == v.Op && bytes.Equal(c.Value, v.Bytes)
			})
		})
		if !wrote {
			others = append(others, set)
		}
	}
	return w.change(g, others)
}

// own reports whether this laptop's person wrote an entry.
func (w *writer) own(e storage.HistoryEntry) bool {
	standing, _, held := w.n.store.Author(e.ID.Log)
	return held && standing.Certificate.Person == w.cert.Person
}

func kindNumber(name string) entry.Kind {
	if k, err := record.Stored().KindByName(name); err == nil {
		return k.Number
	}
	return 0
}

func (w *writer) newID(k *record.Kind, given string) (entry.RecordID, error) {
	var unique [16]byte
	if given == "" {
		if _, err := io.ReadFull(w.n.cfg.Random, unique[:]); err != nil {
			return "", fmt.Errorf("read randomness: %w", err)
		}
		return entry.NewRecordID(k.Class, k.Number, w.cert.Person, unique), nil
	}
	data, err := base32.StdEncoding.WithPadding(base32.NoPadding).DecodeString(strings.ToUpper(given))
	if err != nil || len(data) != len(unique) {
		return "", refuse(ErrInvalid, "new_id: %q isn't 16 bytes in base32", given)
	}
	copy(unique[:], data)
	return entry.NewRecordID(k.Class, k.Number, w.cert.Person, unique), nil
}

// required names what a record of a kind must have to mean anything.
var required = map[entry.Kind][]string{
	record.Prospect: {"name"}, record.Measurement: {"prospect", "what", "reading"}, record.Game: {"date", "home", "away"},
	record.Look: {"prospect"}, record.Rep: {"look"}, record.Evaluation: {"prospect"}, record.Claim: {"evaluation"},
	record.Flag: {"prospect", "about"}, record.Person: {"name"}, record.Factor: {"name"}, record.Assignment: {"person", "prospect"},
}

// first reads the fields of a new record.
func (w *writer) first(id entry.RecordID, k *record.Kind, sets []Set) ([]entry.Change, error) {
	sets = measured(k, sets)
	var changes []entry.Change
	for _, set := range sets {
		if set.Clear {
			continue
		}
		reg, v, err := w.read(k, set)
		if err != nil {
			return nil, err
		}
		if err := w.once(id, reg); err != nil {
			return nil, err
		}
		changes = append(changes, entry.Change{Register: reg.Address(), Op: v.Op, Value: v.Bytes})
	}
	for _, name := range required[k.Number] {
		address := record.Must(k.Number, name).Address()
		if !slices.ContainsFunc(changes, func(c entry.Change) bool { return c.Register == address }) {
			return nil, refuse(ErrInvalid, "a new %s needs %s: add %s=…", k.Name, strings.Join(required[k.Number], ", "), name)
		}
	}
	return changes, nil
}

// measured lets a measurement be typed as one line, or with what apart from
// the reading: what=arm reading="334 verified".
func measured(k *record.Kind, sets []Set) []Set {
	if k.Number != record.Measurement {
		return sets
	}
	at := func(name string) int {
		return slices.IndexFunc(sets, func(s Set) bool {
			f, err := k.FieldByName(s.Field)
			return err == nil && f.Name == name && s.JSON == nil
		})
	}
	reading, what := at("reading"), at("what")
	if reading < 0 {
		return sets
	}
	sets = slices.Clone(sets)
	first, _, _ := strings.Cut(strings.TrimSpace(sets[reading].Text), " ")
	_, err := record.Must(record.Measurement, "what").Parse(first)
	switch {
	case err == nil && what < 0:
		sets = append(sets, Set{Field: "what", Text: first})
	case err != nil && what >= 0:
		sets[reading].Text = sets[what].Text + " " + sets[reading].Text
	}
	return sets
}

// read finds the register and reads the value.
func (w *writer) read(k *record.Kind, set Set) (record.Register, record.Value, error) {
	reg, err := k.Register(set.Field)
	if err != nil {
		return reg, record.Value{}, refuse(ErrInvalid, "%v", err)
	}
	if set.Clear {
		return reg, record.Value{Op: entry.OpClear}, nil
	}
	var v record.Value
	switch {
	case set.JSON != nil:
		var raw []byte
		if raw, err = json.Marshal(set.JSON); err == nil {
			v, err = reg.FromJSON(raw)
		}
	case reg.Field.RefersTo != "":
		var ids string
		if ids, err = w.references(reg.Field, set.Text); err != nil {
			return reg, v, err
		}
		v, err = reg.Parse(ids)
	default:
		v, err = reg.Parse(set.Text)
	}
	if err != nil {
		return reg, v, refuse(ErrInvalid, "%v", err)
	}
	return reg, v, nil
}

// references turns names into ids, several of them where the field is a list.
func (w *writer) references(f *record.Field, typed string) (string, error) {
	names := []string{typed}
	if f.IsList() {
		names = strings.Split(typed, ",")
	}
	for i, name := range names {
		id, err := w.resolve(kindNumber(f.RefersTo), name)
		if err != nil {
			return "", fmt.Errorf("%s: %w", f.Name, err)
		}
		names[i] = id.String()
	}
	return strings.Join(names, ", "), nil
}

// change writes fields of a record that exists. A write replaces the values
// that its writer saw, no others: so a field that has values is refused
// unless they are named.
func (w *writer) change(g group, sets []Set) error {
	k, ok := record.Stored().KindOf(g.leader)
	if !ok {
		return refuse(ErrNewer, "this record is of a kind that only a newer plumbline knows: update this one to change it")
	}
	for _, set := range measured(k, sets) {
		reg, v, err := w.read(k, set)
		if err != nil {
			return err
		}
		if err := w.once(g.leader, reg); err != nil {
			return err
		}
		have := g.union.Find(reg.Address())
		if have != nil && have.Conflict() {
			return w.disputed(g, reg, have)
		}
		if same(have, v) {
			continue
		}
		seen, err := w.seen(g, reg, have, set.Seen)
		if err != nil {
			return err
		}
		if err := w.put(g, reg, v, seen); err != nil {
			return err
		}
	}
	return nil
}

// same reports whether the register holds just this value.
func same(have *merge.Register, v record.Value) bool {
	if have == nil || len(have.Live) == 0 {
		return v.Op == entry.OpClear
	}
	shown := have.Live[0]
	return shown.Op == v.Op && slices.Equal(shown.Data, v.Bytes)
}

// seen reads the ids that the writer names. Without any, a field must be empty.
func (w *writer) seen(g group, reg record.Register, have *merge.Register, named []string) ([]entry.ID, error) {
	var ids []entry.ID
	for _, text := range named {
		id, err := w.valueID(g, have, text)
		if err != nil {
			return nil, err
		}
		ids = append(ids, id)
	}
	if len(ids) > 0 || have == nil {
		return ids, nil
	}
	for _, v := range have.Live {
		if v.Op != entry.OpClear {
			return nil, w.unseen(g, reg, have)
		}
		// A cleared field shows nothing, and that is what the writer saw.
		ids = append(ids, v.ID)
	}
	return ids, nil
}

// named reports whether a typed text is an entry's id or the beginning of it. It
// must reach into the hash: the log alone, or the number, would name whatever
// its author has written there by now.
func named(id entry.ID, typed string) bool {
	full := id.String()
	return len(typed) >= strings.LastIndexByte(full, '.')+1+minHash && strings.HasPrefix(full, strings.ToLower(typed))
}

// minHash is the least of an entry's hash that is taken for it, in characters.
const minHash = 4

// valueID finds the value that an id, or the beginning of one, names.
func (w *writer) valueID(g group, have *merge.Register, text string) (entry.ID, error) {
	if have != nil {
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
		return id, refuse(ErrInvalid, "%q names no value of this field: ids stand behind the values in plumbline show", text)
	}
	held, ok, err := w.n.store.Entry(w.ctx, id)
	if err != nil {
		return id, err
	}
	if !ok || !g.has(held.Header.Record) {
		return id, refuse(ErrInvalid, "%s isn't an entry on this record", text)
	}
	return id, nil
}

// put drafts the write into each member that holds one of the replaced values,
// since nothing replaces across records; into the first if none does.
func (w *writer) put(g group, reg record.Register, v record.Value, seen []entry.ID) error {
	written := false
	for _, m := range g.members {
		replaces := w.standing(m, reg, seen)
		if len(replaces) == 0 {
			continue
		}
		written = true
		if err := w.draft(m.ID, "", entry.Change{Register: reg.Address(), Op: v.Op, Value: v.Bytes, Replaces: replaces}); err != nil {
			return err
		}
	}
	if written {
		return nil
	}
	return w.draft(g.members[0].ID, "", entry.Change{Register: reg.Address(), Op: v.Op, Value: v.Bytes})
}

// standing returns which of the ids a member wrote or has live there.
func (w *writer) standing(m row, reg record.Register, ids []entry.ID) []entry.ID {
	return slices.DeleteFunc(slices.Clone(ids), func(id entry.ID) bool {
		if have := m.Find(reg.Address()); have != nil && slices.ContainsFunc(have.Live, func(v merge.Value) bool { return v.ID == id }) {
			return false
		}
		held, ok, err := w.n.store.Entry(w.ctx, id)
		if err != nil {
			w.fail(err)
		}
		return !ok || held.Header.Record != m.ID
	})
}

// unseen words the refusal with all that is needed to repeat the write.
func (w *writer) unseen(g group, reg record.Register, have *merge.Register) error {
	lines, ids := w.valueLines(g, have)
	return refuse(ErrUnseen, "%s of %s has a value that this write doesn't name:\n%s\nto replace it, say that you saw it: --seen %s",
		reg.Path(), w.title(g.leader), lines, strings.Join(ids, ","))
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
