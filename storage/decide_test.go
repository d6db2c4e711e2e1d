package storage

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/exchange"
	"plumbline/sync/merge"
)

// each appends every fact by itself, in the order given.
func (w *world) each(t *testing.T, s *Store, facts []*fact) {
	t.Helper()
	for _, f := range facts {
		s.append(t, w.runs([]*fact{f}, func() bool { return true })...)
	}
}

// TestCutArrivesAtAnyTime lets a cut arrive before, between and after the
// entries that it accepts and shuts out, one entry in each transaction, so
// that nothing else makes the store judge again when the head arrives.
func TestCutArrivesAtAnyTime(t *testing.T) {
	for _, beyond := range []entry.Beyond{entry.BeyondNothing, entry.BeyondScout} {
		for at := range 7 {
			t.Run(fmt.Sprintf("beyond %d after %d", beyond, at), func(t *testing.T) {
				w := newWorld(3)
				control, _ := w.director(w.root, 1)
				_, line := w.director(control, 2)
				setup := len(w.facts) - 1 // without the line's first entry
				for i := range 3 {
					line.write(prospect(1), value(1, fmt.Sprint("elm ", i), line.at))
					line.write(board(1), value(2, fmt.Sprint("oak ", i)))
				}
				facts := slices.Clone(w.facts)
				cut := control.cut(line.device, beyond, []*fact{facts[setup+4]})
				order := slices.Insert(facts, setup+at, cut)
				s := w.store(t)
				w.each(t, s, order)
				same(t, "cut", s.dump(t), w.model(order).dump())
			})
		}
	}
}

func TestGrantArrivesLast(t *testing.T) {
	w := newWorld(4)
	control, _ := w.director(w.root, 1)
	scout := w.scout(control, 2)
	for i := range 5 {
		scout.write(prospect(byte(i)), value(1, "elm"))
	}
	grant := slices.IndexFunc(w.facts, func(f *fact) bool { return f.first == control.at.first && f.Seq > 1 })
	last := before(w.facts, w.facts[grant])
	order := append(last, w.facts[grant])
	s := w.store(t)
	w.each(t, s, last)
	entries, err := s.SetAside(context.Background(), 0)
	if err != nil || len(entries) != 6 || entries[0].Status != merge.SetAside {
		t.Fatalf("before the grant %d entries are set aside, %v, want 6", len(entries), err)
	}
	o := s.append(t, w.runs(order[len(last):], func() bool { return true })...)
	if len(o.Touched) != 5 || !o.Control {
		t.Errorf("the grant touched %d records, control %v", len(o.Touched), o.Control)
	}
	same(t, "grant", s.dump(t), w.model(order).dump())
}

// TestRetirementWaitsForItsHead retires a record by a head that arrives later
// and is about another record.
func TestRetirementWaitsForItsHead(t *testing.T) {
	w := newWorld(5)
	a, b := w.scout(w.root, 2), w.scout(w.root, 2)
	a.write(prospect(1), value(1, "elm"))
	head := a.write(prospect(2), value(1, "oak"))
	b.retire(prospect(1), entry.Retirement{Heads: []entry.ID{head.id}})
	s := w.store(t)
	w.each(t, s, before(w.facts, head))
	shows(t, s, prospect(1), merge.Disputed)
	// Opened again, the store still waits.
	w.each(t, s, []*fact{head})
	shows(t, s, prospect(1), merge.Hidden)
	same(t, "retired", s.dump(t), w.model(w.facts).dump())
}

func shows(t *testing.T, s *Store, id entry.RecordID, want merge.Visibility) {
	t.Helper()
	row, err := s.Record(context.Background(), id)
	if err != nil || row.Info.Visibility != want {
		t.Fatalf("visibility %d, %v, want %d", row.Info.Visibility, err, want)
	}
}

// TestWhatRefersToIsRead hides a prospect, shows it for a rep that its
// retirement hadn't read, and hides it when the rep turns out to be another's.
func TestWhatRefersIsRead(t *testing.T) {
	ctx := context.Background()
	w := newWorld(6)
	a, b := w.scout(w.root, 2), w.scout(w.root, 2)
	look, rep := owned(kindLook, a, 1), owned(kindRep, a, 1)
	a.write(prospect(1), value(1, "elm"))
	a.write(prospect(2), value(1, "oak"))
	first := a.write(look, refer(2, prospect(1)))
	s := w.store(t)
	s.append(t, w.all()...)
	heads, err := s.Heads(ctx, prospect(1))
	if err != nil || len(heads.Heads) != 1 || heads.Heads[0] != first.id {
		t.Fatalf("heads %v, %v", heads, err)
	}
	done := len(w.facts)
	b.retire(prospect(1), heads)
	s.append(t, w.since(done)...)
	shows(t, s, prospect(1), merge.Hidden)
	done = len(w.facts)
	a.write(rep, refer(2, look))
	s.append(t, w.since(done)...)
	shows(t, s, prospect(1), merge.Disputed)
	if c, err := s.Counts(ctx); err != nil || c.Disputed != 1 || c.Entries != len(w.facts) {
		t.Errorf("counts %+v, %v", c, err)
	}
	done = len(w.facts)
	a.write(rep, refer(2, prospect(2), a.at))
	s.append(t, w.since(done)...)
	shows(t, s, prospect(1), merge.Hidden)
	same(t, "moved", s.dump(t), w.model(w.facts).dump())
}

// TestNewerControlEntryStopsFolding holds entries back while one is there that
// this program doesn't understand, and takes them in when its author is cut.
func TestNewerControlEntryStopsFolding(t *testing.T) {
	w := newWorld(7)
	control, data := w.director(w.root, 1)
	odd, _ := w.director(control, 2)
	data.write(prospect(1), value(1, "elm"))
	s := w.store(t)
	s.append(t, w.all()...)
	done, last := len(w.facts), odd.at
	odd.put("", entry.Body{Kind: 99, Unknown: []byte("later")})
	s.append(t, w.since(done)...)
	if !s.Blocked() {
		t.Fatal("folds on with a control entry that it doesn't understand")
	}
	hash, done := s.StateHash(), len(w.facts)
	data.write(prospect(2), value(1, "elm oak"))
	o := s.append(t, w.since(done)...)
	if o.Added != 1 || s.StateHash() != hash || !errors.Is(s.Rebuild(context.Background()), ErrBlocked) {
		t.Fatalf("added %d, or something was folded", o.Added)
	}
	done = len(w.facts)
	control.cut(odd.device, entry.BeyondNothing, []*fact{last})
	s.append(t, w.since(done)...)
	same(t, "afterwards", s.dump(t), w.model(w.facts).dump())
}

// TestSpaceForWhatHasNoStanding fills what is kept of a device that nobody
// knows, and lets more in once it is granted.
func TestSpaceForWhatHasNoStanding(t *testing.T) {
	w := newWorld(8)
	d := w.newDevice()
	cert := w.certificate(d, entry.RoleScout, 2)
	l := w.open(d, cert, false)
	s := w.store(t)
	s.append(t, w.all()...)
	done := len(w.facts)
	var err error
	for n := 0; err == nil; n++ {
		if n > SetAsideLimit/(60<<10) {
			t.Fatal("more was stored than there is space for")
		}
		done = len(w.facts)
		l.write(prospect(1), entry.Change{Register: reg(2), Op: entry.OpValue, Value: make([]byte, 60<<10)})
		_, err = s.Append(context.Background(), w.since(done)...)
	}
	if !errors.Is(err, ErrSetAsideFull) || len(w.facts) < 200 {
		t.Fatalf("after %d entries: %v", len(w.facts), err)
	}
	small := exchange.Tip{Log: l.writer.Log, Point: l.at.Point}
	if w.root.grant(cert); !s.Wants(small) {
		t.Log("full: the tip isn't wanted")
	}
	held := done
	w.each(t, s, w.facts[len(w.facts)-1:])
	if !s.Wants(small) {
		t.Error("granted, and still not wanted")
	}
	w.each(t, s, w.facts[held:held+1])
	same(t, "granted", s.dump(t), w.model(w.facts).dump())
}
