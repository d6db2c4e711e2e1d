package storage

import (
	"context"

	"plumbline/sync/entry"
	"plumbline/sync/exchange"
	"plumbline/sync/merge"
)

// Options say how a store is opened. The zero value is fine for a staff that
// is yet to be founded.
type Options struct {
	// Staff is whose database it is; zero leaves it to what the file says, or
	// to [Store.SetStaff].
	Staff entry.StaffID
	// Projector extracts what reading needs; nil keeps neither words nor
	// summaries.
	Projector Projector
	// ReadOnly opens a file that is there, a backup for example, and leaves it
	// as it is.
	ReadOnly bool
}

// Projector extracts from records what reading needs. Its answers depend on
// the record alone. It is called inside the transaction that changes the
// record: it must be quick and must not call the store.
type Projector interface {
	// Version changes whenever the other answers do: what was built by
	// another version is built anew.
	Version() int
	// Words returns a record's text for the search index; "" for none.
	Words(r *merge.Record) string
	// Summarized reports whether summaries of this kind of record are kept.
	Summarized(kind entry.Kind) bool
}

// Store is one open database. It is safe for concurrent use: one transaction
// writes at a time, readers never wait for it.
type Store struct{}

// Outcome says what Append changed.
type Outcome struct {
	// Added is how many entries weren't held before.
	Added int
	// Tips are the tips of the branches that grew.
	Tips []exchange.Tip
	// Touched are the records whose state or visibility may have changed.
	Touched []entry.RecordID
	// Control is set when a new verdict was reached: standing, cuts, link keys
	// or erasures may have changed.
	Control bool
	// Forked names logs that got another branch: a cloned disk.
	Forked []entry.LogID
}

// Open opens the database and makes it if need be.
func Open(ctx context.Context, path string, o Options) (*Store, error) { return &Store{}, nil }

// Close ends all use of the store and leaves one file.
func (s *Store) Close() error { return nil }

// Staff returns whose database it is; zero until founded.
func (s *Store) Staff() entry.StaffID { return entry.StaffID{} }

// SetStaff says whose database it is, once and for good.
func (s *Store) SetStaff(ctx context.Context, staff entry.StaffID) error { return nil }

// Append stores verified runs and folds them, all or nothing. When it returns,
// they are on disk. Entries that are held already are skipped.
func (s *Store) Append(ctx context.Context, runs ...entry.Run) (Outcome, error) {
	return Outcome{}, nil
}

// Verdict returns what the control entries held come to.
func (s *Store) Verdict() *merge.Verdict { return nil }

// Blocked reports whether a control entry of a newer version stops folding.
func (s *Store) Blocked() bool { return false }

// Groups says which records are one.
func (s *Store) Groups() *merge.Groups { return nil }

// StateHash is equal on laptops whose entries come to the same.
func (s *Store) StateHash() merge.StateHash { return merge.StateHash{} }

// Lamport returns the highest Lamport time held.
func (s *Store) Lamport() uint64 { return 0 }

// Holdings (sync/exchange): Tips, Holds, Samples, Source, Range, Wants.
func (s *Store) Tips() []exchange.Tip                                   { return nil }
func (s *Store) Holds(log entry.LogID, at entry.Point) bool             { return false }
func (s *Store) Samples(log entry.LogID, tip entry.Point) []entry.Point { return nil }
func (s *Store) Source(log entry.LogID, after entry.Point) (entry.Source, bool) {
	return entry.Source{}, false
}
func (s *Store) Range(log entry.LogID, after, upto entry.Point, max int) ([]entry.Raw, []entry.SignedPoint, error) {
	return nil, nil, nil
}
func (s *Store) Wants(tip exchange.Tip) bool { return false }

var _ exchange.Holdings = (*Store)(nil)
