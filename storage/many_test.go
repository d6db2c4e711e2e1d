package storage

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge/mergetest"
)

// charted writes reps of one look in one go, as a catch-up brings them.
func charted(w *mergetest.World, n int) (l *mergetest.Line, reps []entry.RecordID) {
	l = w.Scout(w.Root, 2)
	for i := range n {
		reps = append(reps, rep(l, i))
		l.Write(reps[i], refer(9, prospect(1)), value(1, "elm"))
	}
	return l, reps
}

// seldom brings a signature at the end of a run only.
func seldom() bool { return false }

func verified(t *testing.T, s *Store) {
	t.Helper()
	report, err := s.Verify(context.Background(), nil)
	check(t, err)
	for _, fault := range report.Faults {
		t.Error(fault)
	}
}

// found sees that records, some of many, are found by their ids.
func found(t *testing.T, s *Store, ids []entry.RecordID) {
	t.Helper()
	for i := 0; i < len(ids); i += len(ids)/50 + 1 {
		id := ids[i]
		row, err := s.Record(context.Background(), id)
		check(t, err)
		history, err := s.History(context.Background(), id)
		check(t, err)
		if row.ID != id || len(history) == 0 {
			t.Fatalf("%s is read as %s, with %d entries", id, row.ID, len(history))
		}
	}
}

func unkeyedRows(t *testing.T, s *Store) (n int) {
	t.Helper()
	_, err := s.reader().one("SELECT count(*) FROM unkeyed", nil, &n)
	check(t, err)
	return n
}

// TestRecordsAreFoundBeforeTheirKeysAreStored catches up by more records than
// have their keys stored at once, and finds them: at once, in a file as a crash
// leaves it, after more has come, and once the keys are stored.
func TestRecordsAreFoundBeforeTheirKeysAreStored(t *testing.T) {
	w := newWorld(31)
	l, reps := charted(w, 3*keysAtOnce)
	third := len(w.Facts) - 2*keysAtOnce
	s := storeOf(t, w)
	s.append(t, runs(w, w.Facts[:third], seldom)...)
	s.append(t, runs(w, w.Facts[third:], seldom)...)
	if unkeyedRows(t, s) == 0 || s.held.Load().known == nil {
		t.Fatal("no key waits")
	}
	found(t, s, reps)
	verified(t, s)
	path := filepath.Join(t.TempDir(), "crashed.db")
	for _, end := range []string{"", "-wal"} {
		data, err := os.ReadFile(s.path + end)
		check(t, err)
		check(t, os.WriteFile(path+end, data, 0o600))
	}
	crashed := openAt(t, path, Options{Projector: projector{}})
	found(t, crashed, reps)
	same(t, "after a crash", crashed.dump(t), s.dump(t))
	done := len(w.Facts)
	for i, id := range reps { // each again, and one in three for the first time
		l.Write(id, value(2, "third set"))
		if i%3 == 0 {
			l.Write(rep(l, len(reps)+i), value(1, "oak"))
		}
	}
	for _, s := range []*Store{s, crashed} {
		s.append(t, runs(w, w.Facts[done:], seldom)...)
		found(t, s, reps)
		check(t, s.IndexRecords(context.Background()))
		if unkeyedRows(t, s) != 0 || s.held.Load().unkeyed.size != 0 || s.held.Load().known != nil {
			t.Error("keys still wait")
		}
		found(t, s, reps)
		verified(t, s)
	}
	dump := s.dump(t)
	same(t, "with keys, after a crash", crashed.dump(t), dump)
	check(t, s.Rebuild(context.Background()))
	same(t, "rebuilt", s.dump(t), dump)
}

// TestMoreKeysThanWait catches up by more records in one transaction than keys
// wait.
func TestMoreKeysThanWait(t *testing.T) {
	w := newWorld(32)
	_, reps := charted(w, unkeyedAtMost+keysAtOnce)
	s := storeOf(t, w)
	s.append(t, runs(w, w.Facts, seldom)...)
	if size := s.held.Load().unkeyed.size; size >= unkeyedAtMost {
		t.Errorf("%d keys wait", size)
	}
	found(t, s, reps[:100])
	found(t, s, reps[len(reps)-100:])
	check(t, s.Close())
	s = openAt(t, s.path, Options{Projector: projector{}})
	if unkeyedRows(t, s) != 0 {
		t.Error("keys wait in a file that was closed")
	}
	verified(t, s)
}

// TestReferencesInRuns takes one of many that refer to a record out of the
// middle, from the ends, and puts it back.
func TestReferencesInRuns(t *testing.T) {
	ctx := context.Background()
	w := newWorld(33)
	l, reps := charted(w, 50)
	s := storeOf(t, w)
	s.append(t, all(w)...)
	referring := func(to entry.RecordID) int {
		t.Helper()
		rows, err := s.Referring(ctx, to, mergetest.KindRep)
		check(t, err)
		all, err := s.Under(ctx, to)
		check(t, err)
		if len(all) != len(rows) {
			t.Errorf("%d refer to it, %d are under it", len(rows), len(all))
		}
		return len(rows)
	}
	runsOf := func(want int) {
		t.Helper()
		var n int
		_, err := s.reader().one("SELECT count(*) FROM ref", nil, &n)
		check(t, err)
		if n != want {
			t.Errorf("%d rows of references, want %d", n, want)
		}
	}
	runsOf(1)
	last := map[entry.RecordID]*mergetest.Fact{}
	for _, f := range w.Facts {
		last[f.Header.Record] = f
	}
	turn := func(id entry.RecordID, to byte) {
		t.Helper()
		done := len(w.Facts)
		l.Write(id, refer(9, prospect(to), last[id]))
		last[id] = l.At
		s.append(t, since(w, done)...)
		verified(t, s)
	}
	for i, n := range []int{20, 0, 49} {
		turn(reps[n], 2)
		if a, b := referring(prospect(1)), referring(prospect(2)); a != 49-i || b != i+1 {
			t.Errorf("%d and %d refer", a, b)
		}
	}
	runsOf(2 + 3)
	turn(reps[20], 1)
	if a, b := referring(prospect(1)), referring(prospect(2)); a != 48 || b != 2 {
		t.Errorf("%d and %d refer", a, b)
	}
	same(t, "as written", s.dump(t), dumpOf(w.Read(w.Facts...)))
	check(t, s.Rebuild(ctx))
	runsOf(1 + 2)
	same(t, "rebuilt", s.dump(t), dumpOf(w.Read(w.Facts...)))
}

// TestOpensTheTablesOfBefore turns a file into what the steps up to the third
// left, and opens it.
func TestOpensTheTablesOfBefore(t *testing.T) {
	w := newWorld(34)
	l, reps := charted(w, 40)
	for _, id := range reps[10:20] {
		l.Write(id, value(3, "left"))
	}
	s := storeOf(t, w)
	s.append(t, all(w)...)
	before := s.dump(t)
	check(t, s.writer.plain(`DROP INDEX entry_record;
		ALTER TABLE entry DROP COLUMN sole;
		ALTER TABLE entry ADD COLUMN lamport INTEGER NOT NULL DEFAULT 7;
		CREATE INDEX entry_record ON entry (record, n) WHERE record IS NOT NULL;
		UPDATE record SET lamport = iif(state IS NULL, 0, 7) WHERE lamport IS NULL;
		CREATE TABLE ref_before (target INTEGER NOT NULL, source INTEGER NOT NULL, PRIMARY KEY (target, source)) WITHOUT ROWID;
		INSERT INTO ref_before SELECT target, n FROM ref JOIN record ON n BETWEEN source AND source + count - 1;
		DROP TABLE ref;
		ALTER TABLE ref_before RENAME TO ref;
		DROP TABLE unkeyed;
		PRAGMA user_version = 3`))
	data, err := os.ReadFile(s.path)
	check(t, err)
	wal, err := os.ReadFile(s.path + "-wal")
	check(t, err)
	path := filepath.Join(t.TempDir(), "before.db")
	check(t, os.WriteFile(path, data, 0o600))
	check(t, os.WriteFile(path+"-wal", wal, 0o600))
	again := openAt(t, path, Options{Projector: projector{}})
	verified(t, again)
	same(t, "what stood in the tables of before", again.dump(t), before)
}
