package sim

import (
	"context"

	"plumbline/node"
	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Store is an open ledger, as a laptop and whoever sits before it use it.
// [storage.Store] is one.
type Store interface {
	node.Ledger
	node.Inside
	Verdict() *merge.Verdict
	Groups() *merge.Groups
	StateHash() merge.StateHash
	Blocked() bool
	// Record reads one record; storage.ErrNoRecord when it has no value.
	Record(ctx context.Context, id entry.RecordID) (storage.Row, error)
	node.Evidence
	// SetAside lists what isn't applied.
	SetAside(ctx context.Context, limit int) ([]storage.HistoryEntry, error)
	Close() error
}

// Disk is what outlives a process.
type Disk interface {
	// Open opens the ledger that lies there. One at a time.
	Open(staff entry.StaffID) (Store, error)
	// Die is a loss of power: what was durable stays, and of what was on its way
	// to the disk a part that the dice decide. The store that was open is gone.
	Die(d *dice) error
	// Lie is a disk that lost what it had said to be durable: everything behind
	// some moment is gone. Nothing is open.
	Lie(d *dice) error
	// Copy returns a disk with the same content, as of now.
	Copy() (Disk, error)
	// Backup returns a disk that holds a backup, which is without secrets. The
	// store is open.
	Backup() (Disk, error)
	// Faults are those that this disk is about to have.
	Faults() *faults
	// Gone ends the use of the disk.
	Gone()
}

// died is the panic by which a process ends in the middle of a write. Nothing
// of what it was doing is carried on.
type died struct{}
