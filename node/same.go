package node

import (
	"context"
	"fmt"
	"strings"

	"plumbline/node/record"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Same says that two records are one, or apart. Apart takes the second out of
// the first's group: it says no to every pair across. Where something else was
// said before, it is replaced if the caller names it as seen; if not, nothing is
// written at all.
func (n *Node) Same(ctx context.Context, first, second string, apart bool, seen ...string) (Sameness, error) {
	w, err := n.begin(ctx)
	if err != nil {
		return Sameness{}, err
	}
	a, b, err := w.pair(first, second)
	if err != nil {
		return Sameness{}, err
	}
	ids, err := w.valueIDs(w.statements(w.across(a, b), b), verdict.Address(), seen)
	if err != nil {
		return Sameness{}, err
	}
	others, answer := []entry.RecordID{a}, merge.Yes
	if apart {
		answer = merge.No
		if w.groups.Leader(a) == w.groups.Leader(b) {
			others = w.across(a, b)
		}
	}
	for _, other := range others {
		named, err := w.say(other, b, answer, ids)
		if err != nil {
			return Sameness{}, err
		}
		if !named {
			g := w.statements(others, b)
			what := fmt.Sprintf("whether %s and %s are one was said before, and this doesn't name it", w.ownName(a), w.ownName(b))
			return Sameness{}, w.unseen(what, g, g.union.Find(verdict.Address()))
		}
	}
	view, err := w.done(a)
	if err != nil {
		return Sameness{}, err
	}
	r := n.reader(ctx)
	return Sameness{Record: view, Said: r.said(a, b)}, r.err
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
		err = w.oneRecord(a, first, second)
	case a.Kind() != b.Kind():
		err = refuse(ErrInvalid, "%s and %s can't be one", aKind(a), aKind(b))
	case a.Class() == entry.Owned || a.Kind() == record.SameAs:
		err = refuse(ErrInvalid, "%ss can't be joined: only what several people may add can, such as prospects and games", kindName(a))
	}
	return a, b, err
}

// oneRecord refuses two names of one record. Names find who speaks for those that
// are joined, so whoever wants to split them needs their own ids.
func (w *writer) oneRecord(id entry.RecordID, first, second string) error {
	if !w.groups.Joined(id) {
		return refuse(ErrInvalid, "%q and %q are the same record", first, second)
	}
	var ids []string
	for _, member := range w.groups.Members(w.groups.Leader(id)) {
		ids = append(ids, member.String())
	}
	return refuse(ErrInvalid, "%q and %q are one record, joined from %s: to split it, name two of these ids", first, second, strings.Join(ids, " and "))
}

// member finds a record itself, not who speaks for its group.
func (w *writer) member(ref string) (entry.RecordID, error) {
	ref = strings.TrimSpace(ref)
	found, err := w.matching(0, ref)
	if err != nil {
		return "", err
	}
	id, err := w.one(0, ref, found)
	if err != nil {
		return id, err
	}
	if _, ok := w.row(id); !ok {
		return id, refuse(ErrNotFound, "no record has the id %s here", id)
	}
	return id, w.err
}

// say answers whether two records are one, in place of the answers that are named
// by ids. false: there are answers, and none of them is named.
func (w *writer) say(a, b entry.RecordID, answer []byte, ids []entry.ID) (bool, error) {
	id := entry.SameAsID(a, b)
	change := entry.Change{Register: verdict.Address(), Op: entry.OpValue, Value: answer}
	have, ok := w.row(id)
	if !ok {
		return true, w.draft(id, "", change,
			entry.Change{Register: entry.Register{Field: merge.SameFirst}, Op: entry.OpReference, Value: []byte(min(a, b))},
			entry.Change{Register: entry.Register{Field: merge.SameSecond}, Op: entry.OpReference, Value: []byte(max(a, b))})
	}
	if reg := have.Find(verdict.Address()); reg != nil {
		if !reg.Conflict() && same(reg, record.Value{Op: entry.OpValue, Bytes: answer}) {
			return true, nil
		}
		change.Replaces = w.standing(have, verdict, withEquals(reg, ids))
		if len(reg.Live) > 0 && len(change.Replaces) == 0 {
			return false, nil
		}
	}
	return true, w.draft(id, "", change)
}
