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
	"plumbline/sync/merge/mergetest"
)

// each appends every fact by itself, in the order given.
func each(t *testing.T, s *Store, w *mergetest.World, facts []*mergetest.Fact) {
	t.Helper()
	for _, f := range facts {
		s.append(t, runs(w, []*mergetest.Fact{f}, always)...)
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
				control, _ := w.Director(w.Root, 1)
				_, line := w.Director(control, 2)
				setup := len(w.Facts) - 1 // without the line's first entry
				for i := range 3 {
					line.Write(prospect(1), value(1, fmt.Sprint("elm ", i), line.At))
					line.Write(board(1), value(2, fmt.Sprint("oak ", i)))
				}
				facts := slices.Clone(w.Facts)
				cut := control.Cut(line.Device, beyond, []*mergetest.Fact{facts[setup+4]})
				order := slices.Insert(facts, setup+at, cut)
				s := storeOf(t, w)
				each(t, s, w, order)
				same(t, "cut", s.dump(t), dumpOf(w.Read(order...)))
			})
		}
	}
}

func TestGrantArrivesLast(t *testing.T) {
	w := newWorld(4)
	control, _ := w.Director(w.Root, 1)
	scout := w.Scout(control, 2)
	for i := range 5 {
		scout.Write(prospect(byte(i)), value(1, "elm"))
	}
	grant := slices.IndexFunc(w.Facts, func(f *mergetest.Fact) bool { return f.First == control.At.First && f.Seq > 1 })
	last := mergetest.Without(w.Facts, w.Facts[grant])
	order := append(last, w.Facts[grant])
	s := storeOf(t, w)
	each(t, s, w, last)
	entries, err := s.SetAside(context.Background(), 0)
	if err != nil || len(entries) != 6 || entries[0].Status != merge.SetAside {
		t.Fatalf("before the grant %d entries are set aside, %v, want 6", len(entries), err)
	}
	o := s.append(t, runs(w, order[len(last):], always)...)
	if len(o.Touched) != 5 || !o.Control {
		t.Errorf("the grant touched %d records, control %v", len(o.Touched), o.Control)
	}
	same(t, "grant", s.dump(t), dumpOf(w.Read(order...)))
}

// TestRetirementWaitsForItsHead retires a record by a head that arrives later
// and is about another record.
func TestRetirementWaitsForItsHead(t *testing.T) {
	w := newWorld(5)
	a, b := w.Scout(w.Root, 2), w.Scout(w.Root, 2)
	a.Write(prospect(1), value(1, "elm"))
	head := a.Write(prospect(2), value(1, "oak"))
	b.Retire(prospect(1), head)
	s := storeOf(t, w)
	each(t, s, w, mergetest.Without(w.Facts, head))
	shows(t, s, prospect(1), merge.Disputed)
	// Opened again, the store still waits.
	each(t, s, w, []*mergetest.Fact{head})
	shows(t, s, prospect(1), merge.Hidden)
	same(t, "retired", s.dump(t), dumpOf(w.Read(w.Facts...)))
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
	a, b := w.Scout(w.Root, 2), w.Scout(w.Root, 2)
	look, rep := a.Look(1), a.Rep(1)
	a.Write(prospect(1), value(1, "elm"))
	a.Write(prospect(2), value(1, "oak"))
	first := a.Write(look, refer(2, prospect(1)))
	s := storeOf(t, w)
	s.append(t, all(w)...)
	heads, err := s.Heads(ctx, prospect(1))
	if err != nil || len(heads.Heads) != 1 || heads.Heads[0] != first.ID {
		t.Fatalf("heads %v, %v", heads, err)
	}
	done := len(w.Facts)
	b.Put(prospect(1), entry.Body{Kind: entry.KindRetirement, Retirement: &heads})
	s.append(t, since(w, done)...)
	shows(t, s, prospect(1), merge.Hidden)
	done = len(w.Facts)
	a.Write(rep, refer(2, look))
	s.append(t, since(w, done)...)
	shows(t, s, prospect(1), merge.Disputed)
	if c, err := s.Counts(ctx); err != nil || c.Disputed != 1 || c.Entries != len(w.Facts) {
		t.Errorf("counts %+v, %v", c, err)
	}
	done = len(w.Facts)
	a.Write(rep, refer(2, prospect(2), a.At))
	s.append(t, since(w, done)...)
	shows(t, s, prospect(1), merge.Hidden)
	same(t, "moved", s.dump(t), dumpOf(w.Read(w.Facts...)))
}

// TestNewerControlEntryStopsFolding holds entries back while one is there that
// this program doesn't understand, and takes them in when its author is cut.
func TestNewerControlEntryStopsFolding(t *testing.T) {
	w := newWorld(7)
	control, data := w.Director(w.Root, 1)
	odd, _ := w.Director(control, 2)
	data.Write(prospect(1), value(1, "elm"))
	s := storeOf(t, w)
	s.append(t, all(w)...)
	done, last := len(w.Facts), odd.At
	odd.Put("", entry.Body{Kind: 99, Unknown: []byte("later")})
	s.append(t, since(w, done)...)
	if !s.Blocked() {
		t.Fatal("folds on with a control entry that it doesn't understand")
	}
	hash, done := s.StateHash(), len(w.Facts)
	data.Write(prospect(2), value(1, "elm oak"))
	o := s.append(t, since(w, done)...)
	if o.Added != 1 || s.StateHash() != hash || !errors.Is(s.Rebuild(context.Background()), ErrBlocked) {
		t.Fatalf("added %d, or something was folded", o.Added)
	}
	done = len(w.Facts)
	control.Cut(odd.Device, entry.BeyondNothing, []*mergetest.Fact{last})
	s.append(t, since(w, done)...)
	same(t, "afterwards", s.dump(t), dumpOf(w.Read(w.Facts...)))
}

// TestSpaceForWhatHasNoStanding fills what is kept of a device that nobody
// knows, and lets more in once it is granted.
func TestSpaceForWhatHasNoStanding(t *testing.T) {
	w := newWorld(8)
	d := w.NewDevice()
	cert := w.Certificate(d, entry.RoleScout, 0, 2)
	l := w.Open(d, cert, false)
	s := storeOf(t, w)
	s.append(t, all(w)...)
	done := len(w.Facts)
	var err error
	for n := 0; err == nil; n++ {
		if n > SetAsideLimit/(60<<10) {
			t.Fatal("more was stored than there is space for")
		}
		done = len(w.Facts)
		l.Write(prospect(1), entry.Change{Register: reg(2), Op: entry.OpValue, Value: make([]byte, 60<<10)})
		_, err = s.Append(context.Background(), since(w, done)...)
	}
	if !errors.Is(err, ErrSetAsideFull) || len(w.Facts) < 200 {
		t.Fatalf("after %d entries: %v", len(w.Facts), err)
	}
	small := exchange.Tip{Log: l.Writer.Log, Point: l.At.Point}
	if w.Root.Grant(cert); !s.Wants(small) {
		t.Log("full: the tip isn't wanted")
	}
	held := done
	each(t, s, w, w.Facts[len(w.Facts)-1:])
	if !s.Wants(small) {
		t.Error("granted, and still not wanted")
	}
	each(t, s, w, w.Facts[held:held+1])
	same(t, "granted", s.dump(t), dumpOf(w.Read(w.Facts...)))
}
