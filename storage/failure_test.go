package storage

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"plumbline/sync/entry"
)

// impatient is a context that ends after it was looked at a number of times.
type impatient struct {
	context.Context
	left int
}

func (c *impatient) Err() error {
	if c.left--; c.left < 0 {
		return context.Canceled
	}
	return nil
}

func (c *impatient) Deadline() (time.Time, bool) { return time.Time{}, false }

// failingWorld has something of everything that a transaction keeps in memory.
func failingWorld() (*world, int, *line) {
	w := newWorld(11)
	control, _ := w.director(w.root, 1)
	a := w.scout(control, 2)
	a.write(prospect(1), value(1, "elm"))
	done := len(w.facts)
	b := w.scout(control, 2)
	other := a.fork(a.at)
	for i := range 300 {
		b.write(prospect(byte(i%20)), value(1, fmt.Sprint("elm ", i, strings.Repeat(" oak", 100))), refer(2, prospect(byte(i%20+1))))
	}
	other.write(prospect(1), value(1, "oak"))
	a.write(prospect(2), value(1, "ash"))
	control.cut(a.device, entry.BeyondNothing, nil)
	a.retire(prospect(1), entry.Retirement{Heads: ids(w.facts[done:])})
	return w, done, a
}

// unchanged holds a store against what it was before a transaction failed, in
// memory and on disk, and then lets the transaction through.
func unchanged(t *testing.T, fail func(s *Store, runs []entry.Run) error, want error) {
	w, done, _ := failingWorld()
	s := w.store(t)
	s.append(t, w.runs(w.facts[:done], func() bool { return true })...)
	before, dump := s.held.Load(), s.dump(t)
	if err := fail(s, w.since(done)); !errors.Is(err, want) {
		t.Fatalf("error %v, want %v", err, want)
	}
	if s.held.Load() != before {
		t.Error("memory has changed")
	}
	same(t, "after the failure", s.dump(t), dump)
	again, err := load(s.writer.query)
	check(t, err)
	if again.fold != before.fold || len(again.branches) != len(before.branches) || again.lamport != before.lamport {
		t.Error("the database has changed")
	}
	s.append(t, w.since(done)...)
	same(t, "tried again", s.dump(t), w.model(w.facts).dump())
}

func TestCancelledAtAnyMoment(t *testing.T) {
	for moment := range 5 {
		t.Run(fmt.Sprint(moment), func(t *testing.T) {
			unchanged(t, func(s *Store, runs []entry.Run) error {
				_, err := s.Append(&impatient{Context: context.Background(), left: moment}, runs...)
				return err
			}, context.Canceled)
		})
	}
}

func TestDiskFull(t *testing.T) {
	for _, pages := range []int{1, 5, 20} {
		t.Run(fmt.Sprint(pages), func(t *testing.T) {
			unchanged(t, func(s *Store, runs []entry.Run) error {
				var now int
				_, err := querier(s.writer.query).one("PRAGMA page_count", nil, &now)
				check(t, err)
				limit := func(n int) {
					// The statement answers with the limit, so it is a query.
					_, err := querier(s.writer.query).one(fmt.Sprintf("PRAGMA max_page_count = %d", n), nil, new(int))
					check(t, err)
				}
				limit(now + pages)
				defer limit(1 << 30)
				_, err = s.Append(context.Background(), runs...)
				return err
			}, ErrFull)
		})
	}
}

func TestDetachedRunLeavesNothing(t *testing.T) {
	unchanged(t, func(s *Store, runs []entry.Run) error {
		last := len(runs) - 1
		runs[last].After.Hash[3] ^= 1
		defer func() { runs[last].After.Hash[3] ^= 1 }()
		_, err := s.Append(context.Background(), runs...)
		return err
	}, ErrDetached)
}

func TestOpenRefuses(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "plumbline.db")
	w, other := newWorld(12), newWorld(13)
	if _, err := Open(ctx, path, Options{ReadOnly: true}); err == nil {
		t.Error("made a file that was to be read only")
	}
	s := openAt(t, path, Options{})
	if _, err := s.Append(ctx, w.all()...); !errors.Is(err, ErrNoStaff) {
		t.Errorf("entries without a staff: %v", err)
	}
	check(t, s.SetStaff(ctx, w.staff))
	if err := s.SetStaff(ctx, other.staff); !errors.Is(err, ErrOtherStaff) {
		t.Errorf("another staff: %v", err)
	}
	if _, err := s.Append(ctx, other.all()...); !errors.Is(err, ErrOtherStaff) {
		t.Errorf("another staff's entries: %v", err)
	}
	s.append(t, w.all()...)
	if _, err := Open(ctx, path, Options{Staff: other.staff}); !errors.Is(err, ErrOtherStaff) {
		t.Errorf("opened for another staff: %v", err)
	}
	ro := openAt(t, path, Options{ReadOnly: true})
	if _, err := ro.Append(ctx, w.all()...); !errors.Is(err, ErrReadOnly) {
		t.Errorf("append to a read-only store: %v", err)
	}
	if err := ro.SetMeta(ctx, "k", nil); !errors.Is(err, ErrReadOnly) {
		t.Errorf("meta of a read-only store: %v", err)
	}
	check(t, s.writer.plain("PRAGMA user_version = 999"))
	if _, err := Open(ctx, path, Options{}); !errors.Is(err, ErrNewer) {
		t.Errorf("newer tables: %v", err)
	}
}
