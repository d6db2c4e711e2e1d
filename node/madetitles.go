package node

import (
	"context"
	"maps"
	"sync"

	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
)

// madeTitles remembers the titles of which others are made: a list of all reps
// is in the order of the titles of thousands of looks, each made of three other
// records. One is forgotten when something that it is made of changes.
type madeTitles struct {
	mu     sync.Mutex
	age    uint64 // counts what was forgotten
	titles map[entry.RecordID]madeTitle
	users  map[entry.RecordID]map[entry.RecordID]struct{} // the titles that a record is part of
	// recalled is set while they are there, as far as there is room, but for those
	// that are lacking: forgotten since, or of new records.
	recalled  bool
	lacking   int
	recalling sync.Mutex
}

type madeTitle struct {
	text string
	of   []entry.RecordID
}

// manyTitles bounds what is kept.
const manyTitles = 20_000

func isRemembered(kind entry.Kind) bool {
	return kind == record.Look || kind == record.Prospect || kind == record.Game
}

func (t *madeTitles) get(id entry.RecordID) (string, bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	title, ok := t.titles[id]
	return title.text, ok
}

func (t *madeTitles) current() uint64 {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.age
}

// put keeps a title with the records that it is made of, unless something was
// forgotten since the age at which reading for it began: it may be made of what was.
func (t *madeTitles) put(age uint64, id entry.RecordID, title madeTitle) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.age != age {
		return
	}
	if t.titles == nil || len(t.titles) >= manyTitles {
		t.empty()
	}
	t.drop(id)
	t.titles[id] = title
	for _, part := range title.of {
		if t.users[part] == nil {
			t.users[part] = map[entry.RecordID]struct{}{}
		}
		t.users[part][id] = struct{}{}
	}
}

func (t *madeTitles) empty() {
	t.titles, t.users = map[entry.RecordID]madeTitle{}, map[entry.RecordID]map[entry.RecordID]struct{}{}
}

// drop forgets one title.
func (t *madeTitles) drop(id entry.RecordID) {
	for _, part := range t.titles[id].of {
		if delete(t.users[part], id); len(t.users[part]) == 0 {
			delete(t.users, part)
		}
	}
	delete(t.titles, id)
}

// forgetAll forgets every title.
func (t *madeTitles) forgetAll() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.allForgotten()
}

func (t *madeTitles) allForgotten() {
	t.age++
	t.empty()
	t.recalled = false
}

// touched forgets what may be called otherwise by now.
func (t *madeTitles) touched(records []entry.RecordID) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, id := range records {
		switch id.Kind() {
		case record.Look, record.Prospect, record.Game, record.Person:
			t.age++
			t.lacking += max(1, len(t.users[id])) // 1 for a new record
			for user := range maps.Clone(t.users[id]) {
				t.drop(user)
			}
		case entry.KindSameAs:
			t.allForgotten()
		}
	}
	if t.lacking*oneByOne > len(t.titles) {
		t.recalled = false
	}
}

// oneByOne is how many times as long a title takes by itself as one of all that are
// recalled at once.
const oneByOne = 3

// recall reports whether titles have to be recalled, and takes it as done: what
// is touched meanwhile says otherwise.
func (t *madeTitles) recall() bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	before := t.recalled
	if !before {
		t.recalled, t.lacking = true, 0
	}
	return !before
}

func (t *madeTitles) forget() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.recalled = false
}

// recallTitles works out all titles of which others are made, in the order of
// the database.
func (n *Node) recallTitles(ctx context.Context) error {
	n.made.recalling.Lock()
	defer n.made.recalling.Unlock()
	if !n.made.recall() {
		return nil
	}
	room := manyTitles
	for _, kind := range []entry.Kind{record.Prospect, record.Game, record.Look} { // a look's is made of the others
		q := storage.Query{Kind: kind, Limit: min(readAtOnce, room)}
		for q.Limit > 0 {
			last, count, err := n.recallSome(ctx, q)
			if err != nil {
				n.made.forget()
				return err
			}
			if room -= count; count < q.Limit {
				break
			}
			q.After, q.Limit = last, min(readAtOnce, room)
		}
	}
	return nil
}

// recallSome uses a reader of its own, begun before anything is read: only what
// is touched just now isn't kept then.
func (n *Node) recallSome(ctx context.Context, q storage.Query) (last entry.RecordID, count int, err error) {
	r := n.reader(ctx)
	for stored, err := range n.store.Records(ctx, q) {
		if err != nil {
			return last, count, err
		}
		r.rows[stored.ID] = stored
		r.title(stored.ID)
		last, count = stored.ID, count+1
	}
	return last, count, r.err
}
