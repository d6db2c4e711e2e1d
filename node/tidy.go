package node

import (
	"runtime/debug"
	"time"
)

// calm is how long nothing must have come before the node does what can wait.
const calm = 300 * time.Millisecond

// giveWay is how often tidy looks whether lists that are asked for were answered.
const giveWay = 5 * time.Millisecond

// tidyAtOnce is how many records go into the search index in one transaction,
// which a save may have to wait for.
const tidyAtOnce = 1024

// tidy works out ahead what the next question would have to: once nothing has
// come for a while it brings up to date what lists are answered from, the first
// page's before the others', and the search index. Whoever asks before that
// waits a little longer, and gets the same answer. A list that is asked for
// meanwhile makes the rest of what it needs itself, and nothing else is done until
// it has. One processor is left to whoever asks.
func (n *Node) tidy() {
	for n.awaitCalm() {
		for _, step := range []func() error{n.tidyOverview, n.indexRecords, n.packAll, n.recall, n.indexWords, n.rest} {
			if !n.goesOn() {
				break
			}
			if err := step(); err != nil {
				if n.ctx.Err() == nil {
					n.cfg.Log.Warn("lists and search wait for the next question", "cause", err)
				}
				break
			}
		}
	}
}

// goesOn lets whoever asks for a list go first, who would share the processors
// else, and says whether nothing has come meanwhile.
func (n *Node) goesOn() bool {
	for n.asking.Load() > 0 {
		select {
		case <-n.ctx.Done():
			return false
		case <-time.After(giveWay):
		}
	}
	return len(n.grown) == 0
}

func (n *Node) tidyOverview() error {
	for left := true; left && n.goesOn(); {
		var err error
		if left, err = n.overview.tidy(n.reader(n.ctx)); err != nil {
			return err
		}
	}
	return nil
}

func (n *Node) indexRecords() error { return n.store.IndexRecords(n.ctx) }

func (n *Node) recall() error { return n.recallTitles(n.ctx) }

// packAll makes the packs that lists are answered from.
func (n *Node) packAll() error {
	for _, kind := range packedKinds {
		for left := true; left && n.goesOn(); {
			var err error
			if left, err = n.packSome(n.ctx, kind, 1, true); err != nil {
				return err
			}
		}
	}
	return nil
}

func (n *Node) indexWords() error {
	for left := true; left && n.goesOn(); {
		var err error
		if left, err = n.store.IndexWords(n.ctx, tidyAtOnce); err != nil {
			return err
		}
	}
	return nil
}

// rest prepares the next save, and gives the memory back that a catch-up took: an
// idle laptop keeps none of the pages that it wrote, the system has them.
func (n *Node) rest() error {
	for more := true; more && n.goesOn(); {
		var err error
		if more, err = n.store.MakeRoom(n.ctx); err != nil {
			return err
		}
	}
	err := n.store.Rest()
	debug.FreeOSMemory()
	return err
}

// awaitCalm waits until something has come, and then nothing more, no peer is
// asked for more and no table read; false when the node ends.
func (n *Node) awaitCalm() bool {
	select {
	case <-n.ctx.Done():
		return false
	case <-n.grown:
	}
	for {
		n.calming.Store(true)
		before := n.stirs.Load()
		select {
		case <-n.ctx.Done():
			return false
		case <-time.After(calm):
		}
		n.calming.Store(false)
		if n.stirs.Load() == before && n.importing.Load() == 0 && !n.catchingUp() {
			return true
		}
	}
}

// catchingUp reports whether a peer still has something to send.
func (n *Node) catchingUp() bool {
	n.mu.Lock()
	defer n.mu.Unlock()
	for link := range n.links {
		if s := n.core.Session(link); s != nil && s.Waiting() {
			return true
		}
	}
	return false
}

// stir tells tidy that something has come. While it waits for calm it is left
// asleep: to wake it for each of many saves would cost more than all it does.
func (n *Node) stir() {
	n.stirs.Add(1)
	if n.calming.Load() {
		return
	}
	select {
	case n.grown <- struct{}{}:
	default:
	}
}
