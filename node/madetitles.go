package node

import (
	"context"
	"sync"

	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
)

// madeTitles remembers the titles of which others are made: a list of all reps
// is in the order of the titles of thousands of looks, each made of three other
// records. They are forgotten when one of those changes.
type madeTitles struct {
	mu     sync.Mutex
	age    uint64 // counts what was forgotten
	titles map[entry.RecordID]string
	// recalled is set while all of them are there, as far as there is room.
	recalled  bool
	recalling sync.Mutex
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
	return title, ok
}

func (t *madeTitles) current() uint64 {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.age
}

// put keeps a title, unless something was forgotten since the age at which
// reading for it began: it may be made of what was.
func (t *madeTitles) put(age uint64, id entry.RecordID, title string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.age != age {
		return
	}
	if t.titles == nil || len(t.titles) >= manyTitles {
		t.titles = map[entry.RecordID]string{}
	}
	t.titles[id] = title
}

// forgetAll forgets every title.
func (t *madeTitles) forgetAll() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.age++
	t.titles, t.recalled = nil, false
}

// touched forgets what may be called otherwise by now.
func (t *madeTitles) touched(records []entry.RecordID) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, id := range records {
		switch id.Kind() {
		case record.Look:
			t.age++
			delete(t.titles, id)
		case record.Prospect, record.Game, record.Person, entry.KindSameAs:
			t.age++
			t.titles, t.recalled = nil, false
		}
	}
}

// recall reports whether titles have to be recalled, and takes it as done: what
// is touched meanwhile says otherwise.
func (t *madeTitles) recall() bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	before := t.recalled
	t.recalled = true
	return !before
}

func (t *madeTitles) forget() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.recalled = false
}

// recallTitles works out all titles of which others are made, in the order of
// the database: one by one they take three times as long.
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
