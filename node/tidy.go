package node

import (
	"runtime/debug"
	"time"
)

// calm is how long nothing must have come before the node does what can wait.
const calm = 300 * time.Millisecond

// tidyAtOnce is how many records go into the search index in one transaction,
// which a save may have to wait for.
const tidyAtOnce = 1024

// tidy works out ahead what the next question would have to: once nothing has
// come for a while it brings the search index and the summaries up to date.
// Whoever asks before that waits a little longer, and gets the same answer.
func (n *Node) tidy() {
	for n.awaitCalm() {
		left, err := true, error(nil)
		for left && err == nil && len(n.grown) == 0 {
			left, err = n.store.IndexWords(n.ctx, tidyAtOnce)
		}
		if err == nil && !left {
			err = n.overview.tidy(n.reader(n.ctx))
		}
		if err == nil && len(n.grown) == 0 {
			err = n.rest()
		}
		if err != nil && n.ctx.Err() == nil {
			n.cfg.Log.Warn("search index and summaries wait for the next question", "cause", err)
		}
	}
}

// rest gives the memory back that a catch-up took: an idle laptop keeps none of
// the pages that it wrote, the system has them.
func (n *Node) rest() error {
	err := n.store.Rest()
	debug.FreeOSMemory()
	return err
}

// awaitCalm waits until something has come, and then nothing more; false when
// the node ends.
func (n *Node) awaitCalm() bool {
	select {
	case <-n.ctx.Done():
		return false
	case <-n.grown:
	}
	for {
		select {
		case <-n.ctx.Done():
			return false
		case <-n.grown:
		case <-time.After(calm):
			return true
		}
	}
}

// stir tells tidy that something has come.
func (n *Node) stir() {
	select {
	case n.grown <- struct{}{}:
	default:
	}
}
