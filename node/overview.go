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
	rows    map[entry.RecordID]summary
	// listed are the rows in the form that questions take; nil after a change.
	listed []listed
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
	if o.listed == nil {
		o.listed = make([]listed, 0, len(o.rows))
		for id, s := range o.rows {
			o.listed = append(o.listed, s.listed(id))
		}
		// Most lists are in this order: what comes first is met first.
		slices.SortFunc(o.listed, func(a, b listed) int { return strings.Compare(strings.ToLower(a.title), strings.ToLower(b.title)) })
	}
	return slices.Clone(o.listed), nil
}

func (o *overview) load(r *reader) error {
	if o.loaded {
		return nil
	}
	rows, names := map[entry.RecordID]summary{}, map[string]string{}
	var damaged []entry.RecordID
	for kept, err := range r.n.store.Summaries(r.ctx, record.Prospect) {
		if err != nil {
			return err
		}
		s, err := decodeSummary(kept.Data)
		if err != nil {
			damaged = append(damaged, kept.Record)
			continue
		}
		rows[kept.Record] = s.called(names)
	}
	made, _, err := o.remake(r, damaged)
	if err != nil {
		return err
	}
	o.rows, o.names, o.listed, o.loaded = rows, names, nil, true
	return cmp.Or(o.show(made), o.show(o.unsaved.made))
}

// rename writes how people are called now into the rows of what they looked at.
func (o *overview) rename(r *reader) error {
	names := map[string]string{}
	for _, s := range o.rows {
		for _, id := range s.SeenBy {
			if _, known := names[id]; known {
				continue
			}
			person, err := entry.ParsePersonID(id)
			if err != nil {
				return err
			}
			names[id] = r.personName(person)
		}
	}
	if r.err != nil || maps.Equal(names, o.names) {
		return r.err
	}
	o.names, o.listed = names, nil
	for id, s := range o.rows {
		o.rows[id] = s.called(names)
	}
	return nil
}

// called returns the summary with the names of those who had a look.
func (s summary) called(names map[string]string) summary {
	set := map[string]bool{}
	for _, id := range s.SeenBy {
		set[names[id]] = true
	}
	s.Vars = maps.Clone(s.Vars)
	s.Vars["seen_by"] = texts(sortedKeys(set))
	return s
}

func (s summary) listed(id entry.RecordID) listed {
	name, _ := s.Vars["name"].(string)
	conflicts, _ := s.Vars["conflicts"].(int64)
	return listed{id: id, title: cmp.Or(name, shortID(id)), vars: s.Vars, texts: s.Texts, conflicts: int(conflicts), hidden: s.Hidden}
}
