package sim

import (
	"bytes"
	"fmt"
	"path/filepath"
	"slices"

	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// aloneKinds are what somebody does who keeps a ledger alone, as often as their
// weight.
var aloneKinds = []string{
	"write", "write", "write", "write", "write several", "refer", "retire", "retire", "keep", "join records", "join records",
	"look", "start", "start", "close", "crash", "crash soon", "tidy", "backup", "restore",
}

// alone is a staff of one: a world of its own, with all that holds in it.
func (w *World) alone(d *dice) (*World, *Laptop) {
	a := newWorld(Plan{Seed: d.Uint64(), Laptops: 1, Databases: []bool{true}}, Options{Clocks: w.options.Clocks, Log: w.options.Log})
	a.folders, a.ticks = w.folders, w.ticks
	a.found()
	l := a.laptops[0]
	for n := range 4 + d.IntN(24) {
		a.step = Step{Number: n, Do: pick(d, aloneKinds), Roll: d.Uint64()}
		a.ticks++
		kindNamed(a.step.Do)(a, a.step.dice())
		a.settle()
		a.check()
	}
	a.rests(l)
	return a, l
}

// rests ends all faults of a laptop and holds it against the rules.
func (w *World) rests(l *Laptop) {
	l.disk.Faults().crash, l.disk.Faults().failing = 0, 0
	l.start()
	if w.failure == nil {
		w.followsTheRules(l)
	}
}

// taken is what has to be there of a record that was taken along.
type taken struct {
	visibility merge.Visibility
	leader     entry.RecordID
	lines      []string
}

// shown reads what a laptop shows of the records: live values in their order, each
// with its day, whether it is seen, and who speaks for it. A person who is somebody
// else in the staff is called as there.
func (w *World) shown(l *Laptop, ids []entry.RecordID, name func([]byte) []byte) map[entry.RecordID]taken {
	all := map[entry.RecordID]taken{}
	for _, id := range ids {
		row, err := l.up.store.Record(background, id)
		if err != nil {
			continue
		}
		t := taken{visibility: row.Info.Visibility, leader: entry.RecordID(name([]byte(l.up.store.Groups().Leader(id))))}
		for _, reg := range row.Registers {
			for _, v := range reg.Live {
				t.lines = append(t.lines, fmt.Sprintf("%v %d %x %d", reg.Register, v.Op, name(v.Data), v.Wall))
			}
			if reg.Conflict() {
				w.count.add("conflict taken along")
			}
		}
		if t.visibility == merge.Hidden {
			w.count.add("retired record taken along")
		}
		all[entry.RecordID(name([]byte(id)))] = t
	}
	return all
}

// renaming puts one person's id in the place of another's.
func renaming(was, is entry.PersonID) func([]byte) []byte {
	return func(value []byte) []byte { return bytes.ReplaceAll(value, was[:], is[:]) }
}

// checkTaken holds ledger rule 33 against what was there alone: what the certificate
// allows, and nobody has erased, shows as it did, under the same person's name.
func (w *World) checkTaken(l *Laptop, cert entry.Certificate, before map[entry.RecordID]taken) {
	left := false // something that may have kept a retired record in sight
	var ids []entry.RecordID
	for id := range before {
		if !merge.MayWrite(cert, id) || l.erased(id) {
			left = true
			continue
		}
		ids = append(ids, id)
	}
	slices.Sort(ids)
	after := w.shown(l, ids, func(b []byte) []byte { return b })
	for _, id := range ids {
		was, is := before[id], after[id]
		if !slices.Equal(was.lines, is.lines) {
			w.fail("%s has taken %.4s along as\n  %q\ninstead of\n  %q", l, id.String(), is.lines, was.lines)
		}
		seen := was.visibility == is.visibility || left && was.visibility == merge.Disputed && is.visibility == merge.Hidden
		if !seen || was.leader != is.leader {
			w.fail("%s shows %.4s, which it took along, as %d under %.4s instead of %d under %.4s", l, id.String(), is.visibility, is.leader.String(), was.visibility, was.leader.String())
		}
	}
	for f := range l.held {
		if bytes.Equal(f.First.Says.Genesis.Device, l.public()) && l.up.store.Verdict().Standing(f.ID.Log).Certificate.Person != l.person {
			w.fail("%s took entry %d along under another name", l, w.written.number[f])
		}
	}
}

// erased reports whether somebody of the staff has erased a record, with all that
// comes later: a list that both had read may have brought it.
func (l *Laptop) erased(id entry.RecordID) bool {
	for f := range l.held {
		if f.Says.Kind == entry.KindErasure && slices.Contains(f.Says.Erasure.Records, id) {
			return true
		}
	}
	return false
}

// checkKept looks whether the ledger from before is there as it was.
func (w *World) checkKept(l *Laptop, data string, alone merge.StateHash) {
	kept, err := storage.Open(background, filepath.Join(data, "alone", mainFile), storage.Options{ReadOnly: true})
	if err != nil {
		w.fail("%s has lost the ledger from before: %v", l, err)
		return
	}
	if kept.StateHash() != alone {
		w.fail("%s keeps another ledger than the one from before", l)
	}
	w.must(kept.Close())
}

// learnRewritten files what a laptop has written anew, which is promised from now on.
func (w *World) learnRewritten(l *Laptop) {
	store, err := l.disk.Open(w.staff)
	if err != nil {
		w.fail("%s doesn't open the ledger that it moved into: %v", l, err)
		return
	}
	for _, tip := range store.Tips() {
		raws, _, err := store.Range(tip.Log, entry.Point{}, tip.Point, 1<<30)
		w.must(err)
		at := entry.Point{Hash: entry.Origin(w.staff)}
		for _, raw := range raws {
			before := at
			at = entry.Point{Seq: at.Seq + 1, Hash: at.Hash.Next(raw.Header)}
			f := w.written.facts[place{tip.Log, at}]
			if f == nil {
				header, err := entry.DecodeHeader(raw.Header)
				w.must(err)
				f = w.recognizeNew(l, tip.Log, before, entry.Entry{Raw: raw, Point: at, Header: header})
			}
			if w.failure != nil {
				return
			}
			l.promised[f] = true
		}
	}
	w.must(store.Close())
}
