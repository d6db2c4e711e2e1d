package node

import (
	"cmp"
	"maps"
	"slices"
	"strings"
	"sync"

	"plumbline/node/measure"
	"plumbline/node/record"
	"plumbline/sync/entry"
)

// overview keeps the summaries of all prospects as the last question left them:
// to read three thousand of them takes longer than a person waits. They are
// shared between questions, so nothing of them is changed in place.
type overview struct {
	// One question brings them up to date, the others wait: while summaries are
	// read and made, never for whoever writes.
	mu      sync.Mutex
	unsaved unsaved
	loaded  bool
	rows    map[entry.RecordID]*kept
	// inOrder are the rows by their titles; nil after a change.
	inOrder []*kept
	// names says how those who looked are called, as written into the rows.
	names map[string]string
}

// prospects returns what is kept of each prospect that is to be kept, after
// making anew what is out of date. Standings are worked out among all of them,
// before any is left out.
func (r *reader) prospects(retired bool, keep func(listed) (bool, error), standing []measure.What) ([]listed, error) {
	rows, err := r.n.overview.all(r.n.reader(r.ctx))
	if err != nil {
		return nil, err
	}
	rows = slices.DeleteFunc(rows, func(l listed) bool { return l.hidden && !retired })
	standings(rows, standing)
	var failed error
	rows = slices.DeleteFunc(rows, func(l listed) bool {
		ok, err := keep(l)
		failed = cmp.Or(failed, err)
		return !ok
	})
	return rows, failed
}

// all returns every prospect. The reader must be a fresh one.
func (o *overview) all(r *reader) ([]listed, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if err := o.refresh(r); err != nil {
		return nil, err
	}
	if err := o.load(r); err != nil {
		return nil, err
	}
	if err := o.rename(r.n.reader(r.ctx)); err != nil {
		return nil, err
	}
	if o.inOrder == nil {
		o.inOrder = sorted(o.rows)
	}
	all := make([]listed, len(o.inOrder))
	for i, row := range o.inOrder {
		all[i] = row.listed()
	}
	return all, nil
}

// sorted returns rows by their titles. Most lists are in this order: what comes
// first is met first.
func sorted(rows map[entry.RecordID]*kept) []*kept {
	type lowered struct {
		title string
		row   *kept
	}
	by := make([]lowered, 0, len(rows))
	for _, row := range rows {
		by = append(by, lowered{strings.ToLower(row.title), row})
	}
	slices.SortFunc(by, func(a, b lowered) int { return strings.Compare(a.title, b.title) })
	sorted := make([]*kept, len(by))
	for i, one := range by {
		sorted[i] = one.row
	}
	return sorted
}

// forget lets all be read again, and makes room for it.
func (o *overview) forget() { o.loaded, o.rows, o.inOrder = false, nil, nil }

func (o *overview) load(r *reader) error {
	if o.loaded {
		return nil
	}
	r = r.n.reader(r.ctx)
	rows, names, shared := map[entry.RecordID]*kept{}, map[string]string{}, newSharing()
	var damaged []entry.RecordID
	for stored, err := range r.n.store.Summaries(r.ctx, record.Prospect) {
		if err != nil {
			return err
		}
		s, err := decodeSummary(stored.Data)
		if err != nil {
			damaged = append(damaged, stored.Record)
			continue
		}
		if err := r.learn(names, s.SeenBy); err != nil {
			return err
		}
		rows[stored.Record] = shared.keep(stored.Record, s, names)
	}
	made, _, err := o.remake(r, damaged)
	if err != nil {
		return err
	}
	o.rows, o.names, o.inOrder, o.loaded = rows, names, nil, true
	return cmp.Or(o.show(made), o.show(o.unsaved.made))
}

// rename writes how people are called now into the rows of what they looked at.
func (o *overview) rename(r *reader) error {
	names := map[string]string{}
	for _, row := range o.rows {
		if err := r.learn(names, row.seen.ids); err != nil {
			return err
		}
	}
	if maps.Equal(names, o.names) {
		return nil
	}
	o.names, o.inOrder = names, nil
	shared := newSharing()
	for id, row := range o.rows {
		o.rows[id] = row.renamed(shared, names)
	}
	return nil
}

// learn adds how people are called now.
func (r *reader) learn(names map[string]string, people []string) error {
	for _, id := range people {
		if _, known := names[id]; known {
			continue
		}
		person, err := entry.ParsePersonID(id)
		if err != nil {
			return err
		}
		names[id] = r.personName(person)
	}
	return r.err
}
