package node

import (
	"bytes"
	"context"
	"slices"
	"time"

	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// rewriting writes what somebody wrote alone anew into the ledger of their staff
// (ledger rule 33): under the same record ids, entry for entry, each with its list
// and its day. Of a field go the values that are live, in conflict if they were,
// and what lists brought even where somebody has written over it: else reading the
// list again would dispute that. What a person alone wrote and replaced stays
// behind: nobody but them has seen it.
//
// Erasures stay behind too, being control entries of the other staff. Of a record
// that they bear on only live values go along, not what lists brought either: what
// kept the rest out of sight may be an erasure alone. Reading a list again brings
// its values back there.
//
// Entries keep their order, so that retirements cover what they covered, and of
// values in conflict the same one is shown.
type rewriting struct {
	from, to *storage.Store
	own      *OwnLogs
	cert     entry.Certificate
	was      entry.PersonID
	now      time.Time

	// edited are the records of which something was replaced or erased; they may
	// have no value left.
	edited map[entry.RecordID]*merge.Record
	// erased are those that erasures bear on.
	erased map[entry.RecordID]bool
	// stands says which new entries stand for an old value, for those that may be
	// replaced.
	stands map[oldValue][]entry.ID
	// reached says how far the new log had come at an entry that is the last which
	// some retirement had read.
	reached map[entry.ID]entry.ID

	drafts  []Draft
	olds    []oldEntry // what each draft is written for
	pending map[entry.ID]bool
	run     entry.Run // written, and not stored yet
	tip     entry.ID  // of what is written
}

type oldValue struct {
	id  entry.ID
	reg entry.Register
}

type oldEntry struct {
	id     entry.ID
	edited bool // its record is
}

// rewrittenAtOnce is how many entries go into one transaction.
const rewrittenAtOnce = 4096

// all writes everything that goes along, behind what this laptop says first.
func (w *rewriting) all(ctx context.Context, first Draft) error {
	w.edited, w.stands = map[entry.RecordID]*merge.Record{}, map[oldValue][]entry.ID{}
	w.reached, w.pending = map[entry.ID]entry.ID{}, map[entry.ID]bool{}
	w.erased = w.from.Verdict().Erasures.Touched()
	for id := range w.erased {
		w.edited[id] = &merge.Record{ID: id}
	}
	for row, err := range w.from.Records(ctx, storage.Query{Hidden: true}) {
		if err != nil {
			return err
		}
		if w.erased[row.ID] || slices.ContainsFunc(row.Registers, func(r *merge.Register) bool { return len(r.Replaced) > 0 }) {
			w.edited[row.ID] = row.Record
		}
		for _, retirement := range row.Retirements {
			for _, head := range retirement.Heads {
				w.reached[head] = entry.ID{}
			}
		}
	}
	w.draft(first, oldEntry{})
	for e, err := range w.from.Applied(ctx) {
		if err == nil && w.goes(e.Header.Record) {
			err = w.entry(e)
		}
		if err == nil {
			err = w.reach(e.ID)
		}
		if err == nil && len(w.drafts)+len(w.run.Entries) >= rewrittenAtOnce {
			err = w.store(ctx)
		}
		if err != nil {
			return err
		}
	}
	return w.store(ctx)
}

// goes reports whether a record is taken along.
func (w *rewriting) goes(id entry.RecordID) bool {
	return id.Valid() && !slices.Contains(ofItsStaff, id.Kind()) && merge.MayWrite(w.cert, w.id(id))
}

// id is a record's id in the staff: the same, unless its owner is another person
// there.
func (w *rewriting) id(id entry.RecordID) entry.RecordID {
	return entry.RecordID(w.renamed([]byte(id)))
}

// renamed puts the person's id in the staff in the place of the one alone. It is
// random and 16 bytes long: what equals it is it, in whatever value it stands.
func (w *rewriting) renamed(value []byte) []byte {
	if w.was == w.cert.Person {
		return value
	}
	return bytes.ReplaceAll(value, w.was[:], w.cert.Person[:])
}

// reach notes how far the new log had come at an entry that a retirement names.
func (w *rewriting) reach(old entry.ID) error {
	if _, named := w.reached[old]; !named {
		return nil
	}
	if err := w.write(); err != nil {
		return err
	}
	w.reached[old] = w.tip
	return nil
}

func (w *rewriting) entry(e storage.HistoryEntry) error {
	d := Draft{Record: w.id(e.Header.Record), Wall: e.Header.Wall, Body: entry.Body{Kind: e.Body.Kind, Source: e.Body.Source}}
	switch e.Body.Kind {
	case entry.KindChanges:
		var err error
		if d.Body.Changes, err = w.changes(e); err != nil || len(d.Body.Changes) == 0 {
			return err
		}
	case entry.KindRetirement:
		d.Body.Retirement = w.heads(*e.Body.Retirement)
	case entry.KindKeep:
	default:
		return nil
	}
	w.draft(d, oldEntry{e.ID, w.edited[e.Header.Record] != nil})
	return nil
}

func (w *rewriting) draft(d Draft, old oldEntry) {
	w.drafts, w.olds = append(w.drafts, d), append(w.olds, old)
	w.pending[old.id] = true
}

// heads is what a retirement has read of what went along. Who wrote alone wrote one
// entry after the other, so that the last one says it.
func (w *rewriting) heads(r entry.Retirement) *entry.Retirement {
	var last entry.ID
	for _, head := range r.Heads {
		if at := w.reached[head]; at.Seq > last.Seq {
			last = at
		}
	}
	if last.Seq == 0 {
		return &entry.Retirement{} // of what it had read nothing goes along
	}
	return &entry.Retirement{Heads: []entry.ID{last}}
}

// changes returns what goes along of an entry's changes.
func (w *rewriting) changes(e storage.HistoryEntry) ([]entry.Change, error) {
	edited := w.edited[e.Header.Record]
	if edited == nil {
		return w.unedited(e.Body.Changes), nil
	}
	var kept []entry.Change
	for _, c := range e.Body.Changes {
		replaces, err := w.standing(c)
		if err != nil {
			return nil, err
		}
		fromList := isList(e.Body.Source) && !w.erased[e.Header.Record]
		if !fromList && !isLive(edited.Find(c.Register), e.ID) {
			w.stands[oldValue{e.ID, c.Register}] = replaces
			continue
		}
		c.Value, c.Replaces = w.renamed(c.Value), replaces
		kept = append(kept, c)
	}
	return kept, nil
}

func (w *rewriting) unedited(changes []entry.Change) []entry.Change {
	kept := slices.Clone(changes)
	for i := range kept {
		kept[i].Value, kept[i].Replaces = w.renamed(kept[i].Value), nil
	}
	return kept
}

func isLive(reg *merge.Register, id entry.ID) bool {
	return reg != nil && slices.ContainsFunc(reg.Live, func(v merge.Value) bool { return v.ID == id })
}

// standing returns the new entries that stand for what a change replaces.
func (w *rewriting) standing(c entry.Change) ([]entry.ID, error) {
	var ids []entry.ID
	for _, old := range c.Replaces {
		if w.pending[old] {
			if err := w.write(); err != nil { // its id follows from its bytes
				return nil, err
			}
		}
		for _, id := range w.stands[oldValue{old, c.Register}] {
			if !slices.Contains(ids, id) {
				ids = append(ids, id)
			}
		}
	}
	return ids, nil
}

// write makes entries of the drafts.
func (w *rewriting) write() error {
	if len(w.drafts) == 0 {
		return nil
	}
	written, err := w.own.Write(w.drafts, w.to.Lamport(), w.now)
	if err != nil {
		return err
	}
	w.own.Commit(written)
	for _, run := range written.Runs {
		if len(w.run.Entries) == 0 {
			w.run = run
			continue
		}
		w.run.Entries, w.run.Points = append(w.run.Entries, run.Entries...), append(w.run.Points, run.Points...)
	}
	for i, id := range written.IDs {
		for _, c := range w.drafts[i].Body.Changes {
			if w.olds[i].edited {
				w.stands[oldValue{w.olds[i].id, c.Register}] = []entry.ID{id}
			}
		}
	}
	w.tip = written.IDs[len(written.IDs)-1]
	w.drafts, w.olds = nil, nil
	clear(w.pending)
	return nil
}

// store puts on disk what is written.
func (w *rewriting) store(ctx context.Context) error {
	if err := w.write(); err != nil || len(w.run.Entries) == 0 {
		return err
	}
	_, err := w.to.Append(ctx, w.run)
	w.run = entry.Run{}
	return err
}
