package node

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
)

// Verify reads everything back: hashes, signatures, what is folded from the
// entries, and what is summed up for lists. It returns what is wrong, one
// sentence each.
func (n *Node) Verify(ctx context.Context, progress func(done, total uint64)) ([]string, error) {
	if err := n.notLost(); err != nil {
		return nil, err
	}
	report, err := n.store.Verify(ctx, func(done, total int) { progress(uint64(done), uint64(total)) })
	if err != nil || len(report.Faults) > 0 || n.store.Staff() == (entry.StaffID{}) || n.store.Blocked() {
		return report.Faults, failure(err)
	}
	faults, err := n.overview.verify(n.reader(ctx))
	return faults, failure(err)
}

// verify makes every prospect's summary anew and holds it against the one that
// is kept.
func (o *overview) verify(r *reader) ([]string, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if err := o.refresh(r); err != nil {
		return nil, err
	}
	kept := map[entry.RecordID][]byte{}
	for s, err := range r.n.store.Summaries(r.ctx, record.Prospect) {
		if err != nil {
			return nil, err
		}
		kept[s.Record] = s.Data
	}
	r = r.n.reader(r.ctx)
	wrong := map[entry.RecordID]bool{}
	for row, err := range r.n.store.Records(r.ctx, storage.Query{Kind: record.Prospect, Hidden: true}) {
		if err != nil {
			return nil, err
		}
		due, err := r.summaryDue(row.ID)
		if err != nil {
			return nil, err
		}
		if !bytes.Equal(due, kept[row.ID]) {
			wrong[row.ID] = true
		}
		delete(kept, row.ID)
	}
	for id := range kept {
		wrong[id] = true
	}
	return o.unsummarized(r, wrong)
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
func (o *overview) unsummarized(r *reader, wrong map[entry.RecordID]bool) ([]string, error) {
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
