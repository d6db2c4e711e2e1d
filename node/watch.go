package node

import (
	"context"
	"iter"
	"sync"

	"plumbline/sync/entry"
)

// manyRecords is how many changed records are named to a watcher; beyond it is
// told that there are many, and reads anew.
const manyRecords = 500

// watchers wakes those who watch. Each has its own account of what it hasn't
// been told, so a slow reader holds up nobody and misses nothing.
type watchers struct {
	mu     sync.Mutex
	all    map[*watcher]struct{}
	closed bool
}

type watcher struct {
	wake    chan struct{} // closed when the node closes
	pending Change
	seen    map[entry.RecordID]bool
}

func (w *watchers) add() *watcher {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.all == nil {
		w.all = map[*watcher]struct{}{}
	}
	one := &watcher{wake: make(chan struct{}, 1), seen: map[entry.RecordID]bool{}}
	if w.closed {
		close(one.wake)
	} else {
		w.all[one] = struct{}{}
	}
	return one
}

func (w *watchers) remove(one *watcher) {
	w.mu.Lock()
	defer w.mu.Unlock()
	delete(w.all, one)
}

func (w *watchers) close() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.closed = true
	for one := range w.all {
		close(one.wake)
	}
	w.all = nil
}

func (w *watchers) each(note func(*watcher)) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for one := range w.all {
		note(one)
		select {
		case one.wake <- struct{}{}:
		default: // it is awake already
		}
	}
}

func (w *watchers) grown(touched []entry.RecordID) {
	w.each(func(one *watcher) { one.note(touched) })
}

func (w *watchers) peers() {
	w.each(func(one *watcher) { one.pending.Peers = true })
}

func (one *watcher) note(touched []entry.RecordID) {
	for _, id := range touched {
		if one.pending.Many || one.seen[id] {
			continue
		}
		one.seen[id] = true
		one.pending.Records = append(one.pending.Records, id)
		if len(one.pending.Records) > manyRecords {
			one.pending.Many, one.pending.Records = true, nil
		}
	}
}

func (w *watchers) take(one *watcher) Change {
	w.mu.Lock()
	defer w.mu.Unlock()
	c := one.pending
	one.pending, one.seen = Change{}, map[entry.RecordID]bool{}
	return c
}

// Watch yields where things stand, then each change, until ctx or the node
// ends. A reader that is slow gets several changes as one.
func (n *Node) Watch(ctx context.Context) iter.Seq[Change] {
	return func(yield func(Change) bool) {
		one := n.watchers.add()
		defer n.watchers.remove(one)
		for {
			c := n.watchers.take(one)
			counts, err := n.store.Counts(ctx)
			c.Entries, c.StateHash = uint64(counts.Entries), n.store.StateHash()
			if err != nil || !yield(c) {
				return
			}
			select {
			case <-ctx.Done():
				return
			case _, open := <-one.wake:
				if !open {
					return
				}
			}
		}
	}
}
