package node

import (
	"cmp"
	"maps"
	"math"
	"runtime"
	"slices"
	"sync"

	"plumbline/storage"
	"plumbline/sync/entry"
)

// unsaved are summaries that were made while something else was being stored, or
// the disk took nothing, and the moment at which they were due. Whoever asks has
// them; they are stored by who comes next. Once something is saved they may be out
// of date, and are made again. There is one of each prospect at most.
type unsaved struct {
	mark storage.Mark
	made map[entry.RecordID][]byte
	// refused is what the disk said when they were offered last; nil if it took them.
	refused error
}

// tidy makes some of what is out of date anew before anybody asks, and says
// whether any is left: whoever asks meanwhile goes on with all processors. Nobody
// needs it yet, so it ends where the disk takes nothing.
func (o *overview) tidy(r *reader) (left bool, err error) {
	left, stored, err := o.tidySome(r)
	if err == nil && !stored {
		r.n.store.AwaitWriter() // without the lock: nobody else waits for it
	}
	return left, err
}

func (o *overview) tidySome(r *reader) (left, stored bool, err error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	left, stored, err = o.renew(r, tidySummaries, 1)
	return left, stored, cmp.Or(err, o.unsaved.refused)
}

// tidySummaries is how many are made ahead before others get their turn.
const tidySummaries = 256

// refresh makes anew what is out of date.
func (o *overview) refresh(r *reader) error {
	_, _, err := o.renew(r, math.MaxInt, runtime.GOMAXPROCS(0))
	return err
}

// renew makes anew the summaries of what changed since they were made, the limit
// at most, and says whether any are left and whether all were stored. What is read
// for that is read after the moment up to which they will count as made.
func (o *overview) renew(r *reader, limit, workers int) (left, stored bool, err error) {
	due, mark, err := r.n.store.StaleSummaries(r.ctx)
	if err != nil {
		return false, false, err
	}
	if o.unsaved.mark != mark || o.unsaved.made == nil {
		o.unsaved = unsaved{mark: mark, made: map[entry.RecordID][]byte{}}
	}
	o.unsaved.refused = nil // it may take them by now
	due = slices.DeleteFunc(due, func(id entry.RecordID) bool {
		_, made := o.unsaved.made[id]
		return made
	})
	some := due[:min(len(due), limit)]
	if len(some) > len(o.rows)/2 {
		o.forget()
	}
	for some := range slices.Chunk(some, summariesAtOnce) {
		made, err := o.make(r, some, workers)
		if err != nil {
			return false, false, err
		}
		maps.Copy(o.unsaved.made, made)
		if err := o.take(made); err != nil {
			return false, false, err
		}
		if _, err := o.save(r); err != nil {
			return false, false, err
		}
	}
	stored, err = o.save(r)
	return len(some) < len(due) || !stored, stored, err
}

// summariesAtOnce is how many are made before they are stored. After a long absence
// all are to be made anew, which don't fit into memory at once as they are stored.
const summariesAtOnce = 1024

// save stores what was made, unless something else is being stored or the disk has
// just refused it.
func (o *overview) save(r *reader) (stored bool, err error) {
	if len(o.unsaved.made) == 0 || o.unsaved.refused != nil {
		return len(o.unsaved.made) == 0, nil
	}
	stored, err = o.offer(r, o.unsaved.mark, o.unsaved.made)
	if stored {
		o.unsaved.made = map[entry.RecordID][]byte{}
	}
	return stored, err
}

// offer stores summaries, unless something else is being stored or the disk takes
// nothing. What was read for them was read all the same: they may be shown.
func (o *overview) offer(r *reader, mark storage.Mark, made map[entry.RecordID][]byte) (stored bool, err error) {
	stored, err = r.n.store.OfferSummaries(r.ctx, mark, made)
	if o.unsaved.refused = nil; storage.RefusedByDisk(err) {
		o.unsaved.refused = err
		return false, nil
	}
	return stored && err == nil, err
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

// take replaces what was made anew, unless all is read again.
func (o *overview) take(made map[entry.RecordID][]byte) error {
	if !o.loaded {
		return nil
	}
	return o.show(made)
}

// show writes summaries into the rows.
func (o *overview) show(made map[entry.RecordID][]byte) error {
	o.inOrder = nil
	shared := newSharing()
	for id, data := range made {
		if data == nil {
			delete(o.rows, id)
			continue
		}
		s, err := decodeSummary(data)
		if err != nil {
			return err
		}
		o.rows[id] = shared.keep(id, s, o.names)
	}
	return nil
}

// remake makes summaries anew that aren't what was stored, and says whether they
// are now: if not, whoever reads them next from the file makes them once more.
func (o *overview) remake(r *reader, wrong []entry.RecordID) (made map[entry.RecordID][]byte, stored bool, err error) {
	if len(wrong) == 0 {
		return nil, true, nil
	}
	_, mark, err := r.n.store.StaleSummaries(r.ctx)
	if err != nil {
		return nil, false, err
	}
	if made, err = o.make(r, wrong, runtime.GOMAXPROCS(0)); err != nil {
		return nil, false, err
	}
	stored, err = o.offer(r, mark, made)
	return made, stored, err
}
