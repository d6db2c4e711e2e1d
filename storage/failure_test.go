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
	"plumbline/sync/merge/mergetest"
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
func failingWorld() (*mergetest.World, int, *mergetest.Line) {
	w := newWorld(11)
	control, _ := w.Director(w.Root, 1)
	a := w.Scout(control, 2)
	a.Write(prospect(1), value(1, "elm"))
	done := len(w.Facts)
	b := w.Scout(control, 2)
	other := a.Fork(a.At)
	for i := range 300 {
		b.Write(prospect(byte(i%20)), value(1, fmt.Sprint("elm ", i, strings.Repeat(" oak", 100))), refer(2, prospect(byte(i%20+1))))
	}
	other.Write(prospect(1), value(1, "oak"))
	a.Write(prospect(2), value(1, "ash"))
	control.Cut(a.Device, entry.BeyondNothing, nil)
	a.Retire(prospect(1), w.Facts[done:]...)
	return w, done, a
}

// unchanged holds a store against what it was before a transaction failed, in
// memory and on disk, and then lets the transaction through.
func unchanged(t *testing.T, fail func(s *Store, runs []entry.Run) error, want error) {
	w, done, _ := failingWorld()
	s := storeOf(t, w)
	s.append(t, runs(w, w.Facts[:done], always)...)
	dump := s.dump(t) // which brings the search index up to date
	before := s.held.Load()
	if err := fail(s, since(w, done)); !errors.Is(err, want) {
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
	s.append(t, since(w, done)...)
	same(t, "tried again", s.dump(t), dumpOf(w.Read(w.Facts...)))
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

// fill leaves the database room for so many more pages.
func (s *Store) fill(t *testing.T, left int) {
	t.Helper()
	var now int
	_, err := querier(s.writer.query).one("PRAGMA page_count", nil, &now)
	check(t, err)
	// The statement answers with the limit, so it is a query.
	_, err = querier(s.writer.query).one(fmt.Sprintf("PRAGMA max_page_count = %d", now+left), nil, new(int))
	check(t, err)
}

func TestDiskFull(t *testing.T) {
	for _, pages := range []int{1, 5, 20} {
		t.Run(fmt.Sprint(pages), func(t *testing.T) {
			unchanged(t, func(s *Store, runs []entry.Run) error {
				s.fill(t, pages)
				defer s.fill(t, 1<<30)
				_, err := s.Append(context.Background(), runs...)
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
	if _, err := s.Append(ctx, all(w)...); !errors.Is(err, ErrNoStaff) {
		t.Errorf("entries without a staff: %v", err)
	}
	check(t, s.SetStaff(ctx, other.Staff)) // founding may fail half-way and be done again
	check(t, s.SetStaff(ctx, w.Staff))
	if _, err := s.Append(ctx, all(other)...); !errors.Is(err, ErrOtherStaff) {
		t.Errorf("another staff's entries: %v", err)
	}
	s.append(t, all(w)...)
	if err := s.SetStaff(ctx, other.Staff); !errors.Is(err, ErrOtherStaff) {
		t.Errorf("another staff: %v", err)
	}
	if _, err := Open(ctx, path, Options{Staff: other.Staff}); !errors.Is(err, ErrOtherStaff) {
		t.Errorf("opened for another staff: %v", err)
	}
	ro := openAt(t, path, Options{ReadOnly: true})
	if _, err := ro.Append(ctx, all(w)...); !errors.Is(err, ErrReadOnly) {
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
