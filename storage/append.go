package storage

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"

	"plumbline/sync/entry"
	"plumbline/sync/exchange"
	"plumbline/sync/merge"
)

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

// Append stores verified runs and folds them, all or nothing. When it returns,
// they are on disk. Entries that are held already are skipped. The places
// where the runs attach are checked once more: what they were verified against
// may have changed since.
//
// The context is looked at until the commit begins.
func (s *Store) Append(ctx context.Context, runs ...entry.Run) (Outcome, error) {
	s.writing.Lock()
	defer s.writing.Unlock()
	d := s.draft(ctx)
	switch {
	case s.readOnly:
		return Outcome{}, fmt.Errorf("append: %w", ErrReadOnly)
	case d.staff == entry.StaffID{}:
		return Outcome{}, fmt.Errorf("append: %w", ErrNoStaff)
	}
	d.warm = s.takeWarm()
	for _, run := range runs {
		if err := d.attach(run); err != nil {
			return Outcome{}, failure("append", err)
		}
	}
	if len(d.growths) == 0 {
		return Outcome{}, nil
	}
	if err := s.writer.transact(d.carryOut); err != nil {
		return Outcome{}, failure("append", err)
	}
	s.publish(d)
	return d.outcome(), nil
}

// draft is a transaction in the making: a copy of the memory that becomes the
// current one with the commit, and what is collected on the way there.
type draft struct {
	memory
	before    *memory
	ctx       context.Context
	w         *connection
	projector Projector
	builtBy   versions
	device    entry.DeviceID
	turned    *turnedAway

	growths  []*growth // in the order in which they began
	grew     map[merge.Branch]*growth
	forked   []entry.LogID
	ownLogs  bool // logs and tree are copies
	owned    map[merge.Branch]bool
	rejudge  bool // what came bears on the verdict
	judged   bool
	arrived  []entry.RecordID // whose awaited heads arrived
	ownRest  bool             // pairs, retired, awaited and next are copies
	retiring bool             // retired has changed
	pairing  bool             // pairs have changed

	records map[entry.RecordID]*folding
	warm    warm // of the transaction before
	order   []*folding
	// strangers are records known not to be held.
	strangers  map[entry.RecordID]bool
	newEntries *rows
	newSoles   *rows     // entries that are all of their records
	newRows    *rows     // of record
	newSingles *rows     // of record, made up by one entry
	newKeys    []newKey  // of record_key
	unpacked   outdating // packs of which a record has changed
	stale      outdating // records of which the summary has
	newRefs    []newRef
	refolds    map[entry.RecordID]bool
	touched    []entry.RecordID // some of them twice
	seeds      []entry.RecordID // touched, and what touched ones no longer refer to
}

// growth is what a branch gains in one transaction.
type growth struct {
	n       merge.Branch
	first   uint64
	fresh   bool // the branch itself is new
	entries []entry.Entry
	points  []entry.SignedPoint
}

func (s *Store) draft(ctx context.Context) *draft {
	before := s.held.Load()
	return &draft{
		newEntries: s.writer.rows("INSERT INTO entry (n, hash, record, status, kind, header, body)", "(?, ?, ?, ?, ?, ?, ?)"),
		newSoles:   s.writer.rows("INSERT INTO entry (n, hash, record, status, kind, sole, header, body)", soleRow),
		newRows:    s.writer.rows("INSERT INTO record (n, id, state, lamport, conflicts, retirements)", "(?, ?, ?, ?, ?, ?)"),
		newSingles: s.writer.rows("INSERT INTO record (n, id, state)", "(?, ?, ?)"),
		memory:     *before, before: before, ctx: ctx, w: s.writer, projector: s.projector, builtBy: s.builtBy(),
		device: s.device, turned: &s.turned,
		grew: map[merge.Branch]*growth{}, owned: map[merge.Branch]bool{}, records: map[entry.RecordID]*folding{},
		strangers: map[entry.RecordID]bool{},
		unpacked:  outdating{insertUnpacked, s.unpacked, map[recordKey]bool{}},
		stale:     outdating{insertStale, s.stale, map[recordKey]bool{}},
		refolds:   map[entry.RecordID]bool{},
	}
}

// read is the querier of the transaction.
func (d *draft) read() querier { return d.w.query }

// carryOut does all that belongs to one transaction, in the order in which one
// step needs the one before.
func (d *draft) carryOut() error {
	d.copyRest()
	d.fold.mark++
	for _, step := range []func() error{
		d.notice, d.decide, d.bound, d.foldAll, d.storeBranches, d.measure, d.storeOutdated,
	} {
		if err := step(); err != nil {
			return err
		}
	}
	if err := d.ctx.Err(); err != nil {
		return err
	}
	return d.w.setMeta(keyFold, d.fold.encode())
}

// foldAll stores the new entries and brings what is derived up to date.
func (d *draft) foldAll() error {
	if d.Blocked() {
		d.fold.behind = true
		return d.insertAll(false)
	}
	if d.fold.behind {
		if err := d.insertAll(false); err != nil {
			return err
		}
		return d.refoldEverything()
	}
	if err := d.revise(); err != nil {
		return err
	}
	if err := d.insertAll(true); err != nil {
		return err
	}
	return d.settle()
}

// copyRest makes the small maps this transaction's own.
func (d *draft) copyRest() {
	if d.ownRest {
		return
	}
	d.ownRest = true
	d.pairs, d.retired = maps.Clone(d.pairs), maps.Clone(d.retired)
	d.awaited, d.next, d.worded = maps.Clone(d.awaited), maps.Clone(d.next), maps.Clone(d.worded)
}

func (d *draft) storeOutdated() error { return errors.Join(d.unpacked.store(d), d.stale.store(d)) }

func (d *draft) outcome() Outcome {
	slices.Sort(d.touched)
	o := Outcome{Control: d.judged, Forked: d.forked, Touched: slices.Compact(d.touched)}
	for _, g := range d.growths {
		o.Added += len(g.entries)
		o.Tips = append(o.Tips, d.tip(g.n))
	}
	return o
}
