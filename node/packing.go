package node

import (
	"context"
	"errors"
	"maps"
	"sync"

	"plumbline/storage"
	"plumbline/sync/entry"
)

// packsAtOnce is how many packs each worker makes before they are stored in one
// transaction, for which a save may have to wait.
const packsAtOnce = 16

// pack makes the packs of a kind that have to be made anew. Whoever comes second
// doesn't make the same ones, but takes turns with the first.
func (n *Node) pack(ctx context.Context, kind entry.Kind, workers int) error {
	for {
		if left, err := n.packSome(ctx, kind, workers); err != nil || !left {
			return err
		}
	}
}

// packSome makes some of them, and says whether any are left.
func (n *Node) packSome(ctx context.Context, kind entry.Kind, workers int) (left bool, err error) {
	n.packing.Lock()
	defer n.packing.Unlock()
	firsts, mark, err := n.store.Unpacked(ctx, kind)
	if err != nil || len(firsts) == 0 {
		return false, err
	}
	some := firsts[:min(len(firsts), workers*packsAtOnce)]
	made, err := n.makePacks(ctx, some, workers)
	if err != nil {
		return false, err
	}
	stored, err := n.store.PutPacks(ctx, mark, made)
	// While the writer is at work whoever asks makes its own.
	return stored && len(some) < len(firsts), err
}

func (n *Node) makePacks(ctx context.Context, firsts []storage.Number, workers int) (map[storage.Number]storage.Pack, error) {
	made, failed := make([]map[storage.Number]storage.Pack, workers), make([]error, workers)
	var all sync.WaitGroup
	for w := range workers {
		made[w] = map[storage.Number]storage.Pack{}
		all.Go(func() {
			for i := w; i < len(firsts) && failed[w] == nil; i += workers {
				var rows map[storage.Number]storage.Row
				if rows, failed[w] = n.store.Packed(ctx, firsts[i]); failed[w] == nil {
					made[w][firsts[i]] = packRecords(firsts[i], rows)
				}
			}
		})
	}
	all.Wait()
	for _, others := range made[1:] {
		maps.Copy(made[0], others)
	}
	return made[0], errors.Join(failed...)
}
