package node

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"strings"
	"time"

	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Get returns a record with everything that refers to it; with hidden also what
// was retired of that, with since, the AsOf of an earlier answer, what has come in
// since then.
func (n *Node) Get(ctx context.Context, ref string, hidden bool, since string) (Detail, error) {
	r := n.reader(ctx)
	g, err := r.find(0, ref)
	if err != nil {
		return Detail{}, err
	}
	d := Detail{AsOf: r.asOf(g)}
	// What was found is read once more, now that it is known up to where.
	r = n.reader(ctx)
	if g, err = r.find(0, g.leader.String()); err != nil {
		return Detail{}, err
	}
	if d.Arrived, err = r.since(g, since); err != nil {
		return Detail{}, err
	}
	d.Record = r.view(g)
	for _, id := range r.related(g, r.asRead) {
		if child, ok := r.group(id); ok && (hidden || child.visibility() != merge.Hidden) {
			d.Related = append(d.Related, r.view(child))
		}
	}
	if g.leader.Kind() == record.Prospect {
		if d.Summary, err = r.summaryOf(g); err != nil {
			return Detail{}, err
		}
	}
	return d, r.err
}

// summaryOf returns what is worked out of a prospect, with where each of his
// measurements stands among the prospects of his position, of those not retired.
func (r *reader) summaryOf(g group) (map[string]any, error) {
	all, err := r.n.overview.all(r.n.reader(r.ctx))
	if err != nil {
		return nil, err
	}
	at := slices.IndexFunc(all, func(l listed) bool { return l.id == g.leader })
	if at < 0 {
		return nil, nil
	}
	row := all[at]
	all = slices.DeleteFunc(all, func(l listed) bool { return l.hidden && l.id != row.id })
	return standingOf(row, all).all(), nil
}

// related returns the records that refer to a group: level by level, so that
// looks come before their reps, and the children of each in the order given. The
// database's own order is that of arrival, which differs between laptops.
func (r *reader) related(g group, order func(a, b entry.RecordID) int) []entry.RecordID {
	return downFrom(g, r.under(g), order)
}

// downFrom goes from a group to what refers to it, and on, by what refers to each.
func downFrom(g group, children map[entry.RecordID][]entry.RecordID, order func(a, b entry.RecordID) int) []entry.RecordID {
	var found []entry.RecordID
	met := map[entry.RecordID]bool{}
	for _, m := range g.members {
		met[m.ID] = true
		found = append(found, m.ID)
	}
	for i := 0; i < len(found); i++ {
		next := children[found[i]]
		slices.SortFunc(next, order)
		for _, id := range next {
			if !met[id] {
				met[id] = true
				found = append(found, id)
			}
		}
	}
	found = found[len(g.members):]
	slices.SortStableFunc(found, func(a, b entry.RecordID) int { return int(a.Kind()) - int(b.Kind()) })
	return found
}

// under reads all that refers to a group, and says what refers to each.
func (r *reader) under(g group) map[entry.RecordID][]entry.RecordID {
	children := map[entry.RecordID][]entry.RecordID{}
	filed := map[entry.RecordID]bool{}
	for _, m := range g.members {
		rows, err := r.n.store.Under(r.ctx, m.ID)
		if err != nil {
			r.fail(err)
		}
		for _, row := range rows {
			if !isUnder(row.ID) || filed[row.ID] {
				continue
			}
			filed[row.ID] = true
			r.rows[row.ID] = row
			for _, to := range row.References() {
				children[to] = append(children[to], row.ID)
			}
		}
	}
	return children
}

// isUnder leaves out what is said of two being one: it is no part of either.
func isUnder(id entry.RecordID) bool { return id.Kind() != record.SameAs }

// asRead is the order for people: reps by their number, the rest by title.
func (r *reader) asRead(a, b entry.RecordID) int {
	return cmp.Or(cmp.Compare(r.number(a), r.number(b)), strings.Compare(r.title(a), r.title(b)), cmp.Compare(a, b))
}

func (r *reader) number(id entry.RecordID) int {
	if id.Kind() != record.Rep {
		return 0
	}
	n, known := r.numbers[id]
	if !known {
		n, _ = strconv.Atoi(r.shownText(id, "number")) // without one it comes first
		r.numbers[id] = n
	}
	return n
}

// History returns every entry on a record, the oldest first.
func (n *Node) History(ctx context.Context, ref string) ([]Revision, error) {
	r := n.reader(ctx)
	g, err := r.find(0, ref)
	if err != nil {
		return nil, err
	}
	var all []Revision
	for _, m := range g.members {
		entries, err := n.store.History(ctx, m.ID)
		if err != nil {
			return nil, err
		}
		for _, e := range entries {
			all = append(all, r.revision(e))
		}
	}
	return all, r.err
}

func (r *reader) revision(e storage.HistoryEntry) Revision {
	rev := Revision{
		ID: e.ID, Record: e.Header.Record, Author: r.author(e.ID.Log), Written: time.UnixMilli(e.Header.Wall),
		Status: e.Status, Act: e.Body.Kind, Source: e.Body.Source,
	}
	for _, c := range e.Body.Changes {
		f := RevisedField{Name: pathOf(rev.Record, c.Register), Cleared: c.Op == entry.OpClear, Replaces: c.Replaces}
		if known, ok := register(rev.Record, c.Register); ok && !f.Cleared {
			f.Text, _ = known.Text(record.Value{Op: c.Op, Bytes: c.Value})
		}
		if id := entry.RecordID(c.Value); c.Op == entry.OpReference && id.Valid() {
			f.Text = r.title(id)
		}
		rev.Fields = append(rev.Fields, f)
	}
	return rev
}
