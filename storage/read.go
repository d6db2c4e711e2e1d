package storage

import (
	"context"
	"iter"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Row is a record as it is stored.
type Row struct {
	*merge.Record
	Info
}

// Info is what is known of a record besides its values.
type Info struct {
	Visibility merge.Visibility
	// Conflicts is how many registers are in conflict.
	Conflicts int
	// Lamport is the highest time of an entry applied to the record.
	Lamport uint64
}

// Query selects records of one kind.
type Query struct {
	Kind entry.Kind
	// Hidden includes records that are retired.
	Hidden bool
	// Conflicted selects only records with a register in conflict.
	Conflicted bool
	// Disputed selects only records that are retired and written to since.
	Disputed bool
	// After continues behind this record, in the order of the database.
	After entry.RecordID
	// Limit ends after so many; 0 for no end.
	Limit int
}

// Record reads one record; ErrNoRecord when it has no value that counts.
func (s *Store) Record(ctx context.Context, id entry.RecordID) (Row, error) {
	return Row{}, ErrNoRecord
}

// Records reads records in the order in which this database met them. They
// are read in pages, so the caller may read on, or write, between two.
func (s *Store) Records(ctx context.Context, q Query) iter.Seq2[Row, error] {
	return func(func(Row, error) bool) {}
}

// Referring reads the records of one kind (0: of any) that refer to a record,
// hidden ones too.
func (s *Store) Referring(ctx context.Context, id entry.RecordID, kind entry.Kind) ([]Row, error) {
	return nil, nil
}

// Search finds visible records of a kind (0: of any) by the beginnings of
// their words, the best match first.
func (s *Store) Search(ctx context.Context, text string, kind entry.Kind, limit int) ([]entry.RecordID, error) {
	return nil, nil
}

// HistoryEntry is one entry as it is held.
type HistoryEntry struct {
	entry.Entry
	ID     entry.ID
	Place  merge.Place
	Status merge.Status
	// Body is what the entry says; when it can't be read, Unreadable is why.
	Body       entry.Body
	Unreadable error
}

// History reads all entries on a record, by Lamport time, then hash.
func (s *Store) History(ctx context.Context, id entry.RecordID) ([]HistoryEntry, error) {
	return nil, nil
}

// SetAside reads entries that are kept but not applied: without standing,
// without the right, or of a newer kind; of those at most limit.
func (s *Store) SetAside(ctx context.Context, limit int) ([]HistoryEntry, error) { return nil, nil }

// Entry reads one entry; false when it isn't held.
func (s *Store) Entry(ctx context.Context, id entry.ID) (HistoryEntry, bool, error) {
	return HistoryEntry{}, false, nil
}

// Locate finds where an entry lies; false when it isn't held.
func (s *Store) Locate(ctx context.Context, id entry.ID) (merge.Place, bool, error) {
	return merge.Place{}, false, nil
}

// Author returns what a log may do: whose it is stands in the certificate.
func (s *Store) Author(log entry.LogID) (merge.Standing, entry.DeviceID, bool) {
	return merge.Standing{}, entry.DeviceID{}, false
}

// BranchInfo describes one branch of a log.
type BranchInfo struct {
	Branch   merge.Branch
	Log      entry.LogID
	Device   entry.DeviceID
	Key      []byte // the device's public key
	Control  bool
	Tip      entry.Point
	Lamport  uint64
	Standing merge.Standing
	Span     merge.Span
}

// Branches describes every branch of every log.
func (s *Store) Branches() []BranchInfo { return nil }

// Counts says how much there is.
type Counts struct {
	Entries, Logs, Branches         int
	Conflicted, Disputed, Unapplied int
}

// Counts counts.
func (s *Store) Counts(ctx context.Context) (Counts, error) { return Counts{}, nil }

// Heads returns what a retirement of the record carries if its author has read
// everything: for each branch that wrote to the record or to what refers to it,
// the last applied entry, and those below that aren't applied.
func (s *Store) Heads(ctx context.Context, id entry.RecordID) (entry.Retirement, error) {
	return entry.Retirement{}, nil
}

// Mark is a moment in the order of transactions.
type Mark int64

// StaleSummaries returns the records whose summary has to be computed anew,
// and the moment at which that was so.
func (s *Store) StaleSummaries(ctx context.Context) ([]entry.RecordID, Mark, error) {
	return nil, 0, nil
}

// PutSummaries stores summaries that were computed from what was read at or
// after the mark. A record that changed since then stays stale. An empty
// summary is removed.
func (s *Store) PutSummaries(ctx context.Context, mark Mark, summaries map[entry.RecordID][]byte) error {
	return nil
}

// Summaries reads the summaries of a kind, stale ones too.
func (s *Store) Summaries(ctx context.Context, kind entry.Kind) iter.Seq2[Summary, error] {
	return func(func(Summary, error) bool) {}
}

// Summary is what the caller stored for a record.
type Summary struct {
	Record     entry.RecordID
	Visibility merge.Visibility
	Data       []byte
}

// Secret begins the keys of what must not leave the laptop: a backup is
// without them.
const Secret = "secret."

// Meta reads a value that the caller keeps in the database; nil for none.
func (s *Store) Meta(ctx context.Context, key string) ([]byte, error) { return nil, nil }

// SetMeta stores a value, durably; nil removes it.
func (s *Store) SetMeta(ctx context.Context, key string, value []byte) error { return nil }

// Rebuild throws away everything derived and folds all entries again.
func (s *Store) Rebuild(ctx context.Context) error { return nil }

// Report says what Verify found.
type Report struct {
	Entries, Points, Records int
	// Faults says what is wrong, in words; none when all is well.
	Faults []string
}

// Verify checks every hash, signature and derived value against the entries.
func (s *Store) Verify(ctx context.Context, progress func(done, total int)) (Report, error) {
	return Report{}, nil
}

// Backup writes the database to a new file while the store is in use, without
// the secrets.
func (s *Store) Backup(ctx context.Context, path string, progress func(done, total int)) error {
	return nil
}
