package node

import (
	"sync"

	"plumbline/node/record"
	"plumbline/sync/entry"
)

// madeTitles remembers the titles of which others are made: a list of all reps
// is in the order of the titles of thousands of looks, each made of three other
// records. They are forgotten when one of those changes.
type madeTitles struct {
	mu     sync.Mutex
	age    uint64 // counts what was forgotten
	titles map[entry.RecordID]string
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
			t.titles = nil
		}
	}
}
