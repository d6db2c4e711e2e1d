package node

import (
	"cmp"
	"maps"
	"math"
	"runtime"
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
	mu     sync.Mutex // one question brings them up to date, the others wait
	loaded bool
	rows   map[entry.RecordID]summary
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

// tidy makes some of what is out of date anew before anybody asks, and says
// whether any is left: whoever asks meanwhile goes on with all processors.
func (o *overview) tidy(r *reader) (left bool, err error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	stale, err := o.renew(r, tidySummaries, 1)
	return stale > tidySummaries, err
}

// tidySummaries is how many are made ahead before others get their turn.
const tidySummaries = 256

// refresh makes anew what is out of date.
func (o *overview) refresh(r *reader) error {
	_, err := o.renew(r, math.MaxInt, runtime.GOMAXPROCS(0))
	return err
}

// renew makes anew the summaries of what changed since they were made, the limit
// at most, and says how many these were. What is read for that is read after the
// moment up to which they will count as made.
func (o *overview) renew(r *reader, limit, workers int) (stale int, err error) {
	ids, mark, err := r.n.store.StaleSummaries(r.ctx)
	if err != nil || len(ids) == 0 {
		return 0, err
	}
	made, err := o.make(r, ids[:min(len(ids), limit)], workers)
	if err != nil {
		return 0, err
	}
	if err := r.n.store.PutSummaries(r.ctx, mark, made); err != nil {
		return 0, err
	}
	return len(ids), o.take(made)
}

// make makes summaries of what is read now; nil for what has none. Of several
// records that are one, the first speaks for all. Each is made by a reader of its
// own: a season's reps don't fit into memory at once.
func (o *overview) make(r *reader, ids []entry.RecordID, workers int) (map[entry.RecordID][]byte, error) {
	var mu sync.Mutex
	made := map[entry.RecordID][]byte{}
	return made, share(workers, ids, func(id entry.RecordID) error {
		r := r.n.reader(r.ctx)
		leader := r.groups.Leader(id)
		data, err := r.summaryDue(leader)
		mu.Lock()
		defer mu.Unlock()
		if leader != id {
			made[id] = nil
		}
		made[leader] = data
		return err
	})
}

// take replaces what was made anew. After a great change all is read again.
func (o *overview) take(made map[entry.RecordID][]byte) error {
	o.listed = nil
	if len(made) > len(o.rows)/2 {
		o.loaded = false
		return nil
	}
	for id, data := range made {
		if data == nil {
			delete(o.rows, id)
			continue
		}
		s, err := decodeSummary(data)
		if err != nil {
			return err
		}
		o.rows[id] = s.called(o.names)
	}
	return nil
}

// remake makes summaries anew that aren't what was stored, and reads all again.
func (o *overview) remake(r *reader, wrong []entry.RecordID) error {
	_, mark, err := r.n.store.StaleSummaries(r.ctx)
	if err != nil {
		return err
	}
	made, err := o.make(r, wrong, runtime.GOMAXPROCS(0))
	if err != nil {
		return err
	}
	if err := r.n.store.PutSummaries(r.ctx, mark, made); err != nil {
		return err
	}
	o.loaded = false
	return o.load(r)
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
	if len(damaged) > 0 {
		return o.remake(r, damaged)
	}
	o.rows, o.names, o.listed, o.loaded = rows, names, nil, true
	return nil
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
