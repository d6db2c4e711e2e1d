package mesh

import (
	"context"
	"fmt"
	"sync"

	"golang.org/x/sync/semaphore"
)

// What one side may have under way that the other hasn't handled yet. The
// client library and the server drop what a slow reader doesn't take; within
// this window neither ever has enough in hand to do so.
const (
	windowBytes    = 8 << 20
	windowMessages = 128
)

// window is the sender's count of what is under way. The other side answers
// with how many messages it has handled in all.
type window struct {
	room *semaphore.Weighted

	mu      sync.Mutex
	costs   []int64 // of the messages under way, oldest first
	handled uint64
}

func newWindow() *window { return &window{room: semaphore.NewWeighted(windowBytes)} }

// cost counts a small message as a share of the window, which bounds messages
// and bytes in one.
func cost(message []byte) int64 { return max(int64(len(message)), windowBytes/windowMessages) }

// enter waits for room.
func (w *window) enter(ctx context.Context, message []byte) error {
	return w.room.Acquire(ctx, cost(message))
}

// sent notes a message for which there was room. Messages are noted in the
// order in which they are sent.
func (w *window) sent(message []byte) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.costs = append(w.costs, cost(message))
}

// settle makes room for what the other side says it has handled by now.
func (w *window) settle(handled uint64) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if handled < w.handled || handled-w.handled > uint64(len(w.costs)) {
		return fmt.Errorf("%w: %d messages handled, after %d, with %d under way", ErrFrame, handled, w.handled, len(w.costs))
	}
	n := int(handled - w.handled)
	var freed int64
	for _, c := range w.costs[:n] {
		freed += c
	}
	w.costs = append(w.costs[:0], w.costs[n:]...)
	w.handled = handled
	w.room.Release(freed)
	return nil
}
