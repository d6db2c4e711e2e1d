package node

import (
	"context"
	"runtime"
	"sync"

	"plumbline/storage"
	"plumbline/sync/entry"
)

// packsAtOnce is how many packs each worker makes before they are stored in one
// transaction, for which a save may have to wait.
const packsAtOnce = 16

// pack makes the packs of a kind that have to be made anew, on all processors.
// Whoever comes second doesn't make the same ones, but takes turns with the first.
// While the writer is at work whoever asks doesn't wait, and makes its own, as it
// does where the disk takes none: only who waits for them is told of that.
func (n *Node) pack(ctx context.Context, kind entry.Kind, wait bool) error {
	for {
		if left, err := n.packSome(ctx, kind, runtime.GOMAXPROCS(0), wait); err != nil || !left {
			return err
		}
	}
}

// packSome makes some of them, and says whether any are left to be made.
func (n *Node) packSome(ctx context.Context, kind entry.Kind, workers int, wait bool) (left bool, err error) {
	n.packing.Lock()
	unlock := sync.OnceFunc(n.packing.Unlock)
	defer unlock()
	firsts, mark, err := n.store.Unpacked(ctx, kind)
	if err != nil || len(firsts) == 0 {
		return false, err
	}
	some := firsts[:min(len(firsts), workers*packsAtOnce)]
	made, err := n.makePacks(ctx, some, workers)
	if err != nil {
		return false, err
	}
	stored, err := n.store.OfferPacks(ctx, mark, made)
	if err == nil && !stored && wait {
		unlock() // else whoever asks would wait for the writer, too
		stored, err = true, n.store.PutPacks(ctx, mark, made)
	}
	if !wait && storage.RefusedByDisk(err) {
		return false, nil
	}
	return stored && len(some) < len(firsts), err
}

func (n *Node) makePacks(ctx context.Context, firsts []storage.Number, workers int) (map[storage.Number]storage.Pack, error) {
	var mu sync.Mutex
	made := map[storage.Number]storage.Pack{}
	return made, share(workers, firsts, func(first storage.Number) error {
		pack, err := n.makePack(ctx, first)
		mu.Lock()
		defer mu.Unlock()
		made[first] = pack
		return err
	})
}
