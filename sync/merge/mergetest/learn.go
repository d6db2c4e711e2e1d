package mergetest

import (
	"maps"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Learn takes in more facts as a database does: what is new is applied to the
// stored bytes, what changed its status is folded again, the rest stays.
func (lap *Laptop) Learn(facts ...*Fact) {
	before, wasNewer := lap.Status, len(lap.Verdict.Newer) > 0
	anew := lap.Verdict.Erasures.Touched()
	for _, f := range facts {
		lap.hold(f)
	}
	lap.judge()
	if wasNewer || len(lap.Verdict.Newer) > 0 {
		lap.fold()
		return
	}
	maps.Copy(anew, lap.Verdict.Erasures.Touched())
	for id := range anew {
		lap.foldRecord(id)
	}
	lap.foldChanged(before, anew)
	for _, f := range facts {
		if _, known := before[f.ID]; !known && f.Header.Record != "" && lap.Status[f.ID] == merge.Applied && !anew[f.Header.Record] {
			lap.Apply(f)
		}
	}
}

// foldChanged folds records again of which entries have another status than
// before, and notes them.
func (lap *Laptop) foldChanged(before map[entry.ID]merge.Status, anew map[entry.RecordID]bool) {
	for _, f := range lap.Held {
		if was, known := before[f.ID]; known && was != lap.Status[f.ID] && f.Header.Record != "" && !anew[f.Header.Record] {
			anew[f.Header.Record] = true
			lap.foldRecord(f.Header.Record)
		}
	}
}

// Apply applies a fact to the bytes of its record, whatever its status.
func (lap *Laptop) Apply(f *Fact) {
	stored := lap.Record(f.Header.Record)
	r, err := merge.Decode(stored.ID, stored.Encode())
	if err != nil {
		panic(err)
	}
	r.Apply(f.asWrite())
	lap.Hash = lap.Hash.Sub(stored.Digest()).Add(r.Digest())
	lap.Records[r.ID] = r
}
