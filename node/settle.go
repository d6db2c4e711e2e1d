package node

import (
	"context"
	"fmt"
	"slices"
	"time"

	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// row is a record as the storage holds it.
type row = storage.Row

// begin prepares a write by this laptop's person.
func (n *Node) begin(ctx context.Context) (*writer, error) {
	_, cert, err := n.standing()
	if err != nil {
		return nil, err
	}
	return &writer{reader: n.reader(ctx), cert: cert, written: map[entry.RecordID]map[entry.Register]bool{}}, nil
}

// done saves, and shows the record as it is then.
func (w *writer) done(id entry.RecordID) (Record, error) {
	if err := w.save(); err != nil {
		return Record{}, err
	}
	r := w.n.reader(w.ctx)
	g, ok := r.group(id)
	if !ok {
		return Record{ID: id, Kind: kindName(id)}, r.err
	}
	return r.view(g), r.err
}

// Settle ends a conflict: it writes a value that replaces those that were
// shown, into every visible record of a group. Each of them has the answer then,
// also if somebody takes them apart one day.
func (n *Node) Settle(ctx context.Context, s Settlement) (Record, error) {
	w, err := n.begin(ctx)
	if err != nil {
		return Record{}, err
	}
	g, err := w.find(0, s.Record)
	if err != nil {
		return Record{}, err
	}
	k, ok := record.Stored().KindOf(g.leader)
	if !ok {
		return Record{}, refuse(ErrNewer, "this record is of a kind that only a newer plumbline knows: update this one to settle it")
	}
	reg, err := k.Register(s.Set.Field)
	if err != nil {
		return Record{}, refuse(ErrInvalid, "%v", err)
	}
	have := g.union.Find(reg.Address())
	if have == nil || len(have.Live) == 0 {
		return Record{}, refuse(ErrInvalid, "%s of %s has no value to settle; plumbline conflicts lists what has", reg.Path(), w.title(g.leader))
	}
	v, err := w.chosen(g, have, k, s)
	if err != nil {
		return Record{}, err
	}
	seen, err := w.shownIDs(g, have, s.Set.Seen)
	if err != nil {
		return Record{}, err
	}
	for _, m := range g.members {
		change := entry.Change{Register: reg.Address(), Op: v.Op, Value: v.Bytes, Replaces: w.standing(m, reg, seen)}
		if err := w.draft(m.ID, "", change); err != nil {
			return Record{}, err
		}
	}
	return w.done(g.leader)
}

// chosen returns the value to settle on: one of those that stand, or a new one.
func (w *writer) chosen(g group, have *merge.Register, k *record.Kind, s Settlement) (record.Value, error) {
	if s.Choose == "" {
		_, v, err := w.read(k, s.Set)
		return v, err
	}
	id, err := w.valueID(g, have, s.Choose)
	if err != nil {
		return record.Value{}, err
	}
	for _, v := range have.Live {
		if v.ID == id {
			return record.Value{Op: v.Op, Bytes: v.Data}, nil
		}
	}
	return record.Value{}, refuse(ErrUnseen, "the value %s was replaced meanwhile: look at the field again with plumbline show %s", s.Choose, g.leader)
}

// shownIDs reads which values were on the settler's screen; all, if not said.
func (w *writer) shownIDs(g group, have *merge.Register, named []string) ([]entry.ID, error) {
	var ids []entry.ID
	for _, text := range named {
		id, err := w.valueID(g, have, text)
		if err != nil {
			return nil, err
		}
		ids = append(ids, id)
	}
	if len(named) == 0 {
		for _, v := range have.Live {
			ids = append(ids, v.ID)
		}
	}
	return ids, nil
}

// File files an evaluation as of today. What is written after that shows as a
// revision.
func (n *Node) File(ctx context.Context, ref string) (Record, error) {
	w, err := n.begin(ctx)
	if err != nil {
		return Record{}, err
	}
	g, err := w.find(record.Evaluation, ref)
	if err != nil {
		return Record{}, err
	}
	if _, ok := shownValue(g.union, record.Must(record.Evaluation, "overall")); !ok {
		return Record{}, refuse(ErrInvalid, "this evaluation has no overall grade yet: set overall=1 to 9, then file it")
	}
	reg := record.Must(record.Evaluation, "filed")
	v, err := reg.Parse(n.cfg.Now().Format(time.DateOnly))
	if err != nil {
		return Record{}, err
	}
	var seen []entry.ID
	if have := g.union.Find(reg.Address()); have != nil {
		for _, live := range have.Live {
			seen = append(seen, live.ID)
		}
		if same(have, v) {
			return w.done(g.leader)
		}
	}
	if err := w.put(g, reg, v, seen); err != nil {
		return Record{}, err
	}
	return w.done(g.leader)
}

// Retire hides a record, as it has been read on this laptop: whatever is
// written to it elsewhere meanwhile keeps it visible, as a dispute.
func (n *Node) Retire(ctx context.Context, ref string) (Record, error) {
	return n.mark(ctx, ref, func(id entry.RecordID) (entry.Body, error) {
		heads, err := n.store.Heads(ctx, id)
		return entry.Body{Kind: entry.KindRetirement, Retirement: &heads}, err
	})
}

// Keep answers the retirements of a record: it stays.
func (n *Node) Keep(ctx context.Context, ref string) (Record, error) {
	return n.mark(ctx, ref, func(entry.RecordID) (entry.Body, error) {
		return entry.Body{Kind: entry.KindKeep}, nil
	})
}

// mark writes an entry that is no write to a register into each member.
func (n *Node) mark(ctx context.Context, ref string, body func(entry.RecordID) (entry.Body, error)) (Record, error) {
	w, err := n.begin(ctx)
	if err != nil {
		return Record{}, err
	}
	g, err := w.find(0, ref)
	if err != nil {
		return Record{}, err
	}
	if g.leader.Kind() == record.SameAs {
		return Record{}, refuse(ErrInvalid, "a statement that two records are one can't be retired: say that they are apart, with plumbline same --apart")
	}
	for _, m := range g.members {
		if !merge.MayWrite(w.cert, m.ID) {
			return Record{}, w.noRight(m.ID)
		}
		b, err := body(m.ID)
		if err != nil {
			return Record{}, err
		}
		w.drafts = append(w.drafts, Draft{Record: m.ID, Body: b})
	}
	return w.done(g.leader)
}

// Same says that two records are one, or apart. Apart takes the second out of
// the first's group: it says no to every pair across.
func (n *Node) Same(ctx context.Context, first, second string, apart bool) (Record, error) {
	w, err := n.begin(ctx)
	if err != nil {
		return Record{}, err
	}
	a, b, err := w.pair(first, second)
	if err != nil {
		return Record{}, err
	}
	if !apart {
		err = w.say(a, b, merge.Yes)
		if err != nil {
			return Record{}, err
		}
		return w.done(a)
	}
	others := []entry.RecordID{a}
	if w.groups.Leader(a) == w.groups.Leader(b) {
		others = w.groups.Members(w.groups.Leader(a))
	}
	for _, other := range others {
		if other == b {
			continue
		}
		if err := w.say(other, b, merge.No); err != nil {
			return Record{}, err
		}
	}
	return w.done(a)
}

func (w *writer) pair(first, second string) (a, b entry.RecordID, err error) {
	if a, err = w.member(first); err != nil {
		return a, b, err
	}
	if b, err = w.member(second); err != nil {
		return a, b, err
	}
	switch {
	case a == b:
		err = refuse(ErrInvalid, "%q and %q are the same record", first, second)
	case a.Kind() != b.Kind():
		err = refuse(ErrInvalid, "a %s and a %s can't be one", kindName(a), kindName(b))
	case a.Class() == entry.Owned || a.Kind() == record.SameAs:
		err = refuse(ErrInvalid, "%ss can't be joined: only what several people may add can, such as prospects and games", kindName(a))
	}
	return a, b, err
}

// member finds a record itself, not who speaks for its group.
func (w *writer) member(ref string) (entry.RecordID, error) {
	id, err := w.resolve(0, ref)
	if err != nil {
		return id, err
	}
	if _, ok := w.row(id); !ok {
		return id, refuse(ErrNotFound, "no record has the id %s here", id)
	}
	return id, w.err
}

func (w *writer) say(a, b entry.RecordID, verdict []byte) error {
	id := entry.SameAsID(a, b)
	register := func(field uint32) entry.Register { return entry.Register{Field: field} }
	change := entry.Change{Register: register(merge.SameVerdict), Op: entry.OpValue, Value: verdict}
	have, ok := w.row(id)
	if ok {
		if reg := have.Find(change.Register); reg != nil {
			if !reg.Conflict() && same(reg, record.Value{Op: entry.OpValue, Bytes: verdict}) {
				return nil
			}
			for _, v := range reg.Live {
				change.Replaces = append(change.Replaces, v.ID)
			}
		}
	}
	changes := []entry.Change{change}
	if !ok {
		changes = append(changes,
			entry.Change{Register: register(merge.SameFirst), Op: entry.OpReference, Value: []byte(min(a, b))},
			entry.Change{Register: register(merge.SameSecond), Op: entry.OpReference, Value: []byte(max(a, b))})
	}
	return w.draft(id, "", changes...)
}

// Conflicts returns what only a person can settle; of one record if ref is
// given.
func (n *Node) Conflicts(ctx context.Context, ref string) ([]Conflict, error) {
	r := n.reader(ctx)
	var only entry.RecordID
	if ref != "" {
		g, err := r.find(0, ref)
		if err != nil {
			return nil, err
		}
		only = g.leader
	}
	leaders, err := r.suspects()
	if err != nil {
		return nil, err
	}
	var all []Conflict
	for _, id := range leaders {
		if only != "" && id != only {
			continue
		}
		if g, ok := r.group(id); ok {
			all = append(all, r.conflictsOf(g)...)
		}
	}
	for _, p := range r.groups.Torn {
		if only == "" || r.groups.Leader(p.A) == only {
			all = append(all, r.torn(p))
		}
	}
	return all, r.err
}

// suspects returns the records that may hold a conflict, by groups: those with
// one in a record of their own, those in dispute, and joined ones.
func (r *reader) suspects() ([]entry.RecordID, error) {
	leaders := r.groups.Leaders()
	for _, k := range record.Stored().Kinds() {
		for _, q := range []storage.Query{{Kind: k.Number, Conflicted: true}, {Kind: k.Number, Disputed: true}} {
			for row, err := range r.n.store.Records(r.ctx, q) {
				if err != nil {
					return nil, err
				}
				leaders = append(leaders, r.groups.Leader(row.ID))
			}
		}
	}
	slices.Sort(leaders)
	return slices.Compact(leaders), nil
}

func (r *reader) conflictsOf(g group) []Conflict {
	base := Conflict{Record: g.leader, Kind: kindName(g.leader), Title: r.title(g.leader)}
	var all []Conflict
	for _, reg := range g.union.Conflicts() {
		c := base
		c.About, c.Field = "field", r.field(g, reg)
		c.Advice = fmt.Sprintf("plumbline settle %s %s --choose ID, or --value TEXT", g.leader, c.Field.Name)
		all = append(all, c)
	}
	if g.visibility() == merge.Disputed {
		c := base
		c.About = "retirement"
		c.Advice = fmt.Sprintf("retired by someone who hadn't read everything on it: plumbline keep %s, or plumbline retire %s", g.leader, g.leader)
		all = append(all, c)
	}
	return all
}

func (r *reader) torn(p merge.Pair) Conflict {
	return Conflict{
		About: "same", Record: p.A, Kind: kindName(p.A), Title: r.title(p.A),
		Advice: fmt.Sprintf("%s and %s are joined by way of others but said to be apart: plumbline same %s %s, or with --apart", p.A, p.B, p.A, p.B),
	}
}
