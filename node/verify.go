package node

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math"
	"runtime"
	"slices"

	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
)

// Verified is what reading everything back has found, one sentence each.
type Verified struct {
	// Faults are wrong and stay so: in the file, the entries, their signatures.
	Faults []string
	// Mended was wrong in what is worked out from the entries, and was made anew.
	Mended []string
}

// Verify reads everything back: hashes, signatures, what is folded from the
// entries, what is summed up for lists, and what they are answered from. While the
// entries hold it makes anew what is wrong of the rest.
func (n *Node) Verify(ctx context.Context, progress func(done, total uint64)) (v Verified, err error) {
	if err := n.notLost(); err != nil {
		return v, err
	}
	report, err := n.verifyStore(ctx, progress)
	if err == nil && report.Lost == 0 && len(report.Faults) > 0 && !n.store.Blocked() {
		v.Mended = report.Faults
		if err := n.store.Rebuild(ctx); err != nil {
			err = failure(err)
			return v, &refusal{err, fmt.Sprintf("the entries hold, but what is worked out from them doesn't, and couldn't be made anew: %v", err)}
		}
		n.made.forgetAll()
		report, err = n.verifyStore(ctx, progress)
	}
	v.Faults = report.Faults
	if err != nil || len(v.Faults) > 0 || n.store.Staff() == (entry.StaffID{}) || n.store.Blocked() {
		return v, unverified(err)
	}
	for _, check := range []func(*reader) ([]string, error){n.overview.verify, verifyPacks} {
		mended, err := check(n.reader(ctx))
		if v.Mended = append(v.Mended, mended...); err != nil {
			return v, unverified(err)
		}
	}
	return v, nil
}

// unverified says why not all could be looked at. That is no word on the records.
func unverified(err error) error {
	var room *storage.NoRoomError
	switch {
	case errors.As(err, &room):
		return roomless("verify", room, "Nothing is known to be wrong with the records: what was looked at holds")
	case errors.Is(err, storage.ErrFull):
		return refuse(ErrFull, "the disk is full, so not everything could be verified. That says nothing about the records: free some space and verify again")
	case errors.Is(err, storage.ErrDisk):
		return refuse(ErrFull, "the disk refuses to be read or written, so not everything could be verified: see that it is there (%v)", err)
	}
	return failure(err)
}

// roomless says what has no room for its passing file, and what holds anyway.
func roomless(doing string, room *storage.NoRoomError, holds string) error {
	much := ""
	if room.Bytes > 0 {
		much = fmt.Sprintf("about %d MB ", max(1, room.Bytes/1e6))
	}
	return refuse(ErrFull, "%s needs %sfor a passing file in %s, and there is no room: free some, or start plumbline with %s naming another folder, and %s again. %s",
		doing, much, room.Folder, room.Variable, doing, holds)
}

func (n *Node) verifyStore(ctx context.Context, progress func(done, total uint64)) (storage.Report, error) {
	return n.store.Verify(ctx, func(done, total int) { progress(uint64(done), uint64(total)) })
}

// verifyPacks makes every pack anew and holds it against the one that is kept.
func verifyPacks(r *reader) (mended []string, err error) {
	for _, kind := range packedKinds {
		k, ok := record.Stored().Kind(kind)
		if !ok {
			continue
		}
		var parts []string
		for _, f := range facetsOf(k) {
			parts = append(parts, f.column.part())
		}
		packs, mark, err := r.n.store.Packs(r.ctx, kind, parts)
		if err != nil {
			return nil, err
		}
		made := map[storage.Number]storage.Pack{}
		for _, p := range packs {
			if p.Head == nil && !p.Damaged {
				continue // it is to be made anew anyway
			}
			due, err := r.n.makePack(r.ctx, p.First)
			if err != nil {
				return nil, err
			}
			if p.Damaged || !packIs(p, parts, due) {
				made[p.First] = due
			}
		}
		said, err := unpackable(r, k, made)
		if err != nil {
			return nil, err
		}
		mended = append(mended, said...)
		if err := r.n.store.PutPacks(r.ctx, mark, made); err != nil {
			return nil, err
		}
	}
	return mended, nil
}

func packIs(p storage.StoredPack, parts []string, due storage.Pack) bool {
	if !bytes.Equal(p.Head, due.Head) {
		return false
	}
	for i, part := range parts {
		if !bytes.Equal(p.Parts[i], due.Parts[part]) {
			return false
		}
	}
	return true
}

// unpackable words which packs are wrong, but for those that were written to
// meanwhile.
func unpackable(r *reader, k *record.Kind, made map[storage.Number]storage.Pack) (said []string, err error) {
	outdated, _, err := r.n.store.Unpacked(r.ctx, k.Number)
	if err != nil {
		return nil, err
	}
	for _, first := range outdated {
		delete(made, first)
	}
	for _, first := range slices.Sorted(maps.Keys(made)) {
		said = append(said, fmt.Sprintf("lists of kind %s: what is kept of the %d records from number %d on isn't what their entries say",
			k.Name, storage.PackSize, first))
	}
	return said, nil
}

// verify makes every prospect's summary anew and holds it against the one that
// is kept. Whoever asks for a list meanwhile doesn't wait for that: only what seems
// wrong is looked at again with nothing else going on.
func (o *overview) verify(r *reader) (said []string, err error) {
	o.mu.Lock()
	err = o.refresh(r)
	o.mu.Unlock()
	if err != nil {
		return nil, err
	}
	wrong, err := unlikeStored(r)
	for stored := len(wrong) == 0; err == nil && !stored; {
		var found []string
		if found, stored, err = o.mend(r, wrong); len(found) > 0 {
			said = found // a list that was asked for meanwhile may have made it anew
		}
		if err == nil && !stored {
			r.n.store.AwaitWriter()
		}
	}
	return said, err
}

// unlikeStored returns the records whose summaries aren't what they should be. Those
// that were written to meanwhile are among them.
func unlikeStored(r *reader) ([]entry.RecordID, error) {
	kept, err := storedSummaries(r)
	if err != nil {
		return nil, err
	}
	r = r.n.reader(r.ctx)
	var wrong []entry.RecordID
	for row, err := range r.n.store.Records(r.ctx, storage.Query{Kind: record.Prospect, Hidden: true}) {
		if err != nil {
			return nil, err
		}
		due, err := r.summaryDue(row.ID)
		if err != nil {
			return nil, err
		}
		if !bytes.Equal(due, kept[row.ID]) {
			wrong = append(wrong, row.ID)
		}
		delete(kept, row.ID)
	}
	return slices.AppendSeq(wrong, maps.Keys(kept)), nil
}

func storedSummaries(r *reader) (map[entry.RecordID][]byte, error) {
	kept := map[entry.RecordID][]byte{}
	for s, err := range r.n.store.Summaries(r.ctx, record.Prospect) {
		if err != nil {
			return nil, err
		}
		kept[s.Record] = s.Data
	}
	return kept, nil
}

// mend looks again at what seems wrong, and makes anew what is. It says what that
// was, and whether it could be stored now; what the disk doesn't take isn't verified.
func (o *overview) mend(r *reader, seems []entry.RecordID) (said []string, stored bool, err error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	_, stored, err = o.renew(r, math.MaxInt, runtime.GOMAXPROCS(0))
	if err != nil || !stored {
		return nil, false, cmp.Or(err, o.unsaved.refused)
	}
	kept, err := storedSummaries(r)
	if err != nil {
		return nil, false, err
	}
	wrong := map[entry.RecordID]bool{}
	for _, id := range seems {
		due, err := r.n.reader(r.ctx).summaryDue(id)
		if err != nil {
			return nil, false, err
		}
		if !bytes.Equal(due, kept[id]) {
			wrong[id] = true
		}
	}
	if said, err = unsummarized(r, wrong); err != nil || len(wrong) == 0 {
		return said, true, err
	}
	o.forget()
	_, stored, err = o.remake(r, slices.Collect(maps.Keys(wrong)))
	return said, stored, cmp.Or(err, o.unsaved.refused)
}

// summaryDue is what a record's summary should be; nil if another one of its
// group speaks for it.
func (r *reader) summaryDue(id entry.RecordID) ([]byte, error) {
	defer clear(r.rows) // a season's reps don't fit into memory at once
	defer clear(r.titles)
	if r.groups.Leader(id) != id {
		return nil, r.err
	}
	g, ok := r.group(id)
	if !ok {
		return nil, r.err
	}
	data, err := json.Marshal(r.summarize(g))
	if r.err != nil {
		err = r.err
	}
	return data, err
}

// unsummarized words what is wrong, but for what was written to meanwhile.
func unsummarized(r *reader, wrong map[entry.RecordID]bool) ([]string, error) {
	stale, _, err := r.n.store.StaleSummaries(r.ctx)
	if err != nil {
		return nil, err
	}
	for _, id := range stale {
		delete(wrong, id)
	}
	var faults []string
	for id := range wrong {
		faults = append(faults, fmt.Sprintf("record %s: what lists show of it isn't what its entries say", id))
	}
	slices.Sort(faults)
	return faults[:min(len(faults), maxSummaryFaults)], nil
}

// maxSummaryFaults is how many faults are told.
const maxSummaryFaults = 100
