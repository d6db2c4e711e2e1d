package node

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"

	"plumbline/storage"
	"plumbline/sync/entry"
)

// A founding that was cut off between its entries and its keys leaves a ledger to
// which nobody has keys, of a staff whose root nobody has seen. The keys still lie
// under their passing name: that tells it from a copy of a ledger that is in use, and
// from one whose keys were put back from before.

// begun reports whether a database holds no more than such a founding writes: the
// root's log with its grant and link key, and the founder's with who is who.
func begun(held *storage.Store, keys *identity, state string) (bool, error) {
	branches := held.Branches()
	if keys.founded() || len(branches) != 2 {
		return false, nil
	}
	const byRoot, byFounder = 3, 4 // entries, with the one that opens each log
	most := map[entry.DeviceID]uint64{entry.DeviceOf(keys.public()): byFounder}
	for _, b := range branches {
		limit, own := most[b.Device]
		if !own && b.Control {
			limit = byRoot
		}
		if b.Tip.Seq > limit {
			return false, nil
		}
	}
	left, err := leftUnder(state, passingSecret)
	if err != nil {
		return false, err
	}
	for _, path := range left {
		data, err := os.ReadFile(path)
		if err != nil {
			return false, fmt.Errorf("look for a founding that was cut off: %w", err)
		}
		id, err := decodeIdentity(data) // or it is another secret
		if err == nil && id.Staff == held.Staff().String() && bytes.Equal(id.Device, keys.Device) {
			return true, nil
		}
	}
	return false, nil
}

// openLedger opens the database, and anew if it was only begun. After it, what lies
// under passing names among the secrets is nothing to anybody.
func (n *Node) openLedger(open func() (*storage.Store, error)) error {
	store, err := open()
	if err != nil {
		return err
	}
	n.store = store
	is, err := begun(store, n.id(), n.cfg.State)
	if err != nil || !is {
		return err
	}
	if err := store.Close(); err != nil {
		return err
	}
	n.store = nil
	if err := removeDatabase(filepath.Join(n.cfg.Data, databaseFile)); err != nil {
		return fmt.Errorf("remove what was left of a founding that was cut off: %w", err)
	}
	n.store, err = open()
	return err
}
