package node

import (
	"runtime/debug"
	"time"

	"plumbline/storage"
	"plumbline/sync/entry"
)

// calm is how long nothing must have come before the node does what can wait.
const calm = 300 * time.Millisecond

// tidyAtOnce is how many records go into the search index in one transaction,
// which a save may have to wait for.
const tidyAtOnce = 1024

// packsAtOnce is how many packs are stored in one transaction.
const packsAtOnce = 64

// tidy works out ahead what the next question would have to: once nothing has
// come for a while it brings the summaries and the search index up to date.
// Whoever asks before that waits a little longer, and gets the same answer.
// Summaries come first: a list that is being made meanwhile makes them itself,
// and nothing else is done until it has.
func (n *Node) tidy() {
	for n.awaitCalm() {
		left, err := true, n.overview.tidy(n.reader(n.ctx))
		if err == nil && len(n.grown) == 0 {
			err = n.store.IndexRecords(n.ctx)
		}
		for left && err == nil && len(n.grown) == 0 {
			left, err = n.store.IndexWords(n.ctx, tidyAtOnce)
		}
		if err == nil && !left && len(n.grown) == 0 {
			err = n.packAll()
		}
		if err == nil && len(n.grown) == 0 {
			err = n.rest()
		}
		if err != nil && n.ctx.Err() == nil {
			n.cfg.Log.Warn("search index and summaries wait for the next question", "cause", err)
		}
	}
}

// packAll makes the packs that lists are answered from.
func (n *Node) packAll() error {
	for _, kind := range packedKinds {
		if err := n.pack(kind); err != nil {
			return err
		}
	}
	return nil
}

func (n *Node) pack(kind entry.Kind) error {
	firsts, mark, err := n.store.Unpacked(n.ctx, kind)
	if err != nil {
		return err
	}
	made := map[storage.Number]storage.Pack{}
	for i, first := range firsts {
		rows, err := n.store.Packed(n.ctx, first)
		if err != nil {
			return err
		}
		made[first] = packRecords(first, rows)
		if len(made) == packsAtOnce || i == len(firsts)-1 {
			if err := n.store.PutPacks(n.ctx, mark, made); err != nil || len(n.grown) > 0 {
				return err
			}
			clear(made)
		}
	}
	return nil
}

// rest gives the memory back that a catch-up took: an idle laptop keeps none of
// the pages that it wrote, the system has them.
func (n *Node) rest() error {
	err := n.store.Rest()
	debug.FreeOSMemory()
	return err
}

// awaitCalm waits until something has come, and then nothing more, and no peer is
// asked for more; false when the node ends.
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
		if n.stirs.Load() == before && !n.catchingUp() {
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
