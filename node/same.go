package node

import (
	"context"

	"plumbline/node/record"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

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
		err = refuse(ErrInvalid, "%s and %s can't be one", aKind(a), aKind(b))
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
