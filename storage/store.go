package storage

import (
	"context"
	"errors"
	"fmt"
	"os"
	"sync"
	"sync/atomic"

	"plumbline/sync/entry"
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
	// Device is this laptop's: its own logs are always taken, and after damage its
	// entries say what may be missing. May be zero.
	Device entry.DeviceID
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
	// Words returns a record's text for the search index; "" for none. Its live
	// values are those of a [Shown].
	Words(id entry.RecordID, live []entry.Change) string
	// Summarized reports whether summaries of this kind of record are kept.
	Summarized(kind entry.Kind) bool
}

// Store is one open database. It is safe for concurrent use: one transaction
// writes at a time, readers never wait for it.
type Store struct {
	path      string
	projector Projector
	device    entry.DeviceID
	readOnly  bool
	readers   *readers
	turned    turnedAway

	// held is replaced as a whole, after each commit: a reader that has loaded
	// it keeps a consistent view, and a failed transaction leaves no trace.
	held atomic.Pointer[memory]

	copying sync.Mutex // one backup at a time

	writing sync.Mutex // guards what follows
	writer  *connection
	room    int64 // how long the log beside the file was at the last rest
	// unpacked are packs, stale are summaries that must be made anew.
	unpacked, stale outdated
	warm            warm
}

// Open opens the database and makes it if need be. A log that a crash left is
// looked at first: see [Store.Damages].
func Open(ctx context.Context, path string, o Options) (*Store, error) {
	s := &Store{path: path, projector: o.Projector, device: o.Device, readOnly: o.ReadOnly, unpacked: outdated{}, stale: outdated{}}
	done, err := s.lookAtLog(ctx)
	if err != nil {
		return nil, failure("open database "+path, err)
	}
	if !s.readOnly {
		_ = makeOwn(path) // it is there already, or SQLite says why it can't be made
	}
	if s.writer, err = s.openSound(ctx); err != nil {
		return nil, failure("open database "+path, unlike(err))
	}
	err = s.start(ctx, path, o.Staff)
	if err == nil {
		err = s.noteDamage(ctx, done)
	}
	if err != nil {
		return nil, errors.Join(failure("open database "+path, unlike(err)), s.Close())
	}
	return s, nil
}

// lookAtLog mends the log if it is damaged. Who only reads changes nothing.
func (s *Store) lookAtLog(ctx context.Context) (*mended, error) {
	if !s.readOnly {
		return s.mendLog(ctx)
	}
	if _, err := os.Stat(s.path); err != nil {
		return nil, err
	}
	if _, err := os.Stat(s.path + mending); err == nil {
		return nil, ErrCorrupt
	}
	log, err := readLog(s.path)
	if err == nil && log.damaged() {
		err = ErrCorrupt
	}
	return nil, err
}

func (s *Store) start(ctx context.Context, path string, staff entry.StaffID) (err error) {
	if s.readOnly {
		err = s.writer.current()
	} else {
		err = s.writer.migrate()
	}
	if err != nil {
		return err
	}
	s.readers = openReaders(path, s.readOnly)
	m, err := load(s.writer.query)
	if err != nil {
		return err
	}
	s.held.Store(m)
	if staff != (entry.StaffID{}) {
		if err := s.SetStaff(ctx, staff); err != nil {
			return err
		}
	}
	return s.catchUp(ctx)
}

// catchUp folds what was folded by other rules, or couldn't be folded before
// this version of the program.
func (s *Store) catchUp(ctx context.Context) error {
	m := s.held.Load()
	current := m.fold.by == s.builtBy() && !m.fold.behind
	if current || s.readOnly || m.staff == (entry.StaffID{}) || m.Blocked() {
		return nil
	}
	return s.Rebuild(ctx)
}

// builtBy names everything that the derived tables depend on besides entries.
func (s *Store) builtBy() versions {
	v := versions{Rules: merge.Rules, Tables: tablesVersion}
	if s.projector != nil {
		v.Projector = s.projector.Version() + 1
	}
	return v
}

// Close ends all use of the store and leaves one file. On a disk that is full or
// takes nothing any more, what was committed stays in the file beside until the next
// close: nothing of it has failed.
func (s *Store) Close() error { return s.close(RefusedByDisk) }

// CloseWhole is Close for a file that is to be moved. It fails where part of what was
// committed stays in the file beside.
func (s *Store) CloseWhole() error { return s.close(func(error) bool { return false }) }

// close leaves out what may stay for the next close.
func (s *Store) close(mayStay func(error) bool) error {
	s.writing.Lock()
	defer s.writing.Unlock()
	var failed []error
	if s.readers != nil {
		failed = append(failed, s.readers.close())
	}
	if !s.readOnly {
		for _, do := range []func() error{s.indexRecords, func() error { return s.writer.plain("PRAGMA wal_checkpoint(TRUNCATE)") }} {
			if err := failure("tidy up", do()); !mayStay(err) {
				failed = append(failed, err)
			}
		}
	}
	return failure("close database", errors.Join(append(failed, s.writer.close())...))
}

// Rest gives up what is kept for the next transaction: pages, and what tells the
// records of an empty laptop that catches up from those that it has.
func (s *Store) Rest() error {
	s.writing.Lock()
	defer s.writing.Unlock()
	m := *s.held.Load()
	m.known = nil
	s.held.Store(&m)
	return failure("give memory back", s.writer.plain("PRAGMA shrink_memory"))
}

// Staff returns whose database it is; zero until founded.
func (s *Store) Staff() entry.StaffID { return s.held.Load().staff }

// SetStaff says whose database it is, for good once there is an entry. Until
// then it may be said again: founding or joining may have failed half-way.
func (s *Store) SetStaff(ctx context.Context, staff entry.StaffID) error {
	s.writing.Lock()
	defer s.writing.Unlock()
	m := *s.held.Load()
	switch {
	case m.staff == staff:
		return nil
	case m.staff != entry.StaffID{} && len(m.logs) > 0:
		return fmt.Errorf("staff %s, not %s: %w", m.staff, staff, ErrOtherStaff)
	case s.readOnly:
		return ErrReadOnly
	}
	m.staff = staff
	m.fold = fold{by: s.builtBy()}
	err := s.writer.transact(func() error {
		if err := s.writer.setMeta(keyStaff, staff[:]); err != nil {
			return err
		}
		return s.writer.setMeta(keyFold, m.fold.encode())
	})
	if err != nil {
		return failure("set staff", err)
	}
	s.held.Store(&m)
	return nil
}

// Verdict returns what the control entries held come to. It doesn't change:
// the next transaction that bears on it makes another.
func (s *Store) Verdict() *merge.Verdict { return s.held.Load().verdict }

// Suppose returns what the control entries held would come to if these cuts were
// written, and changes nothing.
func (s *Store) Suppose(ctx context.Context, cuts ...merge.Supposed) (*merge.Verdict, error) {
	v, err := s.held.Load().judge(s.readers.bind(ctx).hashAt, cuts...)
	return v, failure("judge what would be", err)
}

// Blocked reports whether a control entry of a newer version stops folding.
// Entries are stored meanwhile, but what they say isn't seen.
func (s *Store) Blocked() bool { return s.held.Load().Blocked() }

// Groups says which records are one. It doesn't change; see [Store.Verdict].
func (s *Store) Groups() *merge.Groups { return s.held.Load().groups }

// StateHash is equal on laptops whose entries come to the same.
func (s *Store) StateHash() merge.StateHash { return s.held.Load().fold.hash }

// Lamport returns the highest Lamport time held.
func (s *Store) Lamport() uint64 { return s.held.Load().lamport }
