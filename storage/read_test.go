package storage

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
	"plumbline/sync/merge/mergetest"
)

func collect(t *testing.T, s *Store, q Query) (ids []entry.RecordID) {
	t.Helper()
	for row, err := range s.Records(context.Background(), q) {
		check(t, err)
		ids = append(ids, row.ID)
	}
	return ids
}

func TestRecordsByQuery(t *testing.T) {
	w := newWorld(17)
	a, b := w.Scout(w.Root, 2), w.Scout(w.Root, 2)
	for i := range 1300 { // more than two pages
		id := entry.NewRecordID(entry.Shared, mergetest.KindProspect, entry.PersonID{}, [16]byte{byte(i), byte(i >> 8)})
		a.Write(id, value(1, fmt.Sprint("elm ", i)))
	}
	one, two, three := prospect(1), prospect(2), prospect(3)
	b.Write(two, value(1, "oak")) // in conflict with a's
	b.Retire(three, w.Facts[len(w.Facts)-2])
	b.Write(b.Look(1), refer(2, one), value(1, "first look"))
	s := storeOf(t, w)
	s.append(t, all(w)...)
	all := collect(t, s, Query{Kind: mergetest.KindProspect})
	if len(all) != 1299 || slices.Contains(all, three) {
		t.Errorf("%d visible records", len(all))
	}
	if n := len(collect(t, s, Query{Kind: mergetest.KindProspect, Hidden: true})); n != 1300 {
		t.Errorf("%d records with hidden ones", n)
	}
	if got := collect(t, s, Query{Conflicted: true}); !slices.Equal(got, []entry.RecordID{two}) {
		t.Errorf("in conflict: %v", got)
	}
	if got := collect(t, s, Query{Disputed: true}); len(got) != 0 {
		t.Errorf("disputed: %v", got)
	}
	if got := collect(t, s, Query{Kind: mergetest.KindProspect, After: all[599], Limit: 7}); !slices.Equal(got, all[600:607]) {
		t.Errorf("after number 600: %v", got)
	}
	if n := len(collect(t, s, Query{})); n != 1300 {
		t.Errorf("%d visible records of any kind", n)
	}
	rows, err := s.Referring(context.Background(), one, 0)
	if err != nil || len(rows) != 1 || rows[0].ID.Kind() != mergetest.KindLook {
		t.Errorf("referring: %v, %v", rows, err)
	}
	if rows, err = s.Referring(context.Background(), one, mergetest.KindRep); err != nil || len(rows) != 0 {
		t.Errorf("referring reps: %v, %v", rows, err)
	}
	if _, err := s.Record(context.Background(), board(7)); !errors.Is(err, ErrNoRecord) {
		t.Errorf("a record that nobody wrote: %v", err)
	}
}

// TestRecordsWhileReadingOn reads and writes from within a listing: nothing
// may wait for the listing to end.
func TestRecordsWhileReadingOn(t *testing.T) {
	ctx := context.Background()
	w := newWorld(18)
	a := w.Scout(w.Root, 2)
	for i := range 40 {
		a.Write(prospect(byte(i)), value(1, "elm"))
	}
	s := storeOf(t, w)
	s.append(t, all(w)...)
	for row, err := range s.Records(ctx, Query{Kind: mergetest.KindProspect}) {
		check(t, err)
		for inner, err := range s.Records(ctx, Query{Kind: mergetest.KindProspect, Limit: 1}) {
			check(t, err)
			_, err = s.History(ctx, inner.ID)
			check(t, err)
		}
		done := len(w.Facts)
		a.Write(row.ID, value(2, "seen"))
		s.append(t, since(w, done)...)
	}
}

func TestHistoryIsOrdered(t *testing.T) {
	ctx := context.Background()
	w := newWorld(19)
	a, b := w.Scout(w.Root, 2), w.Scout(w.Root, 2)
	var want []entry.ID
	for i := range 6 {
		l := []*mergetest.Line{a, b}[i%2]
		want = append(want, l.Write(prospect(1), value(1, fmt.Sprint(i))).ID)
	}
	s := storeOf(t, w)
	s.append(t, all(w)...)
	history, err := s.History(ctx, prospect(1))
	check(t, err)
	var got []entry.ID
	for _, e := range history {
		got = append(got, e.ID)
		if e.Status != merge.Applied || e.Body.Kind != entry.KindChanges || e.Unreadable != nil {
			t.Errorf("entry %+v", e)
		}
	}
	if !slices.Equal(got, want) {
		t.Errorf("history %v, want %v", got, want)
	}
	e, held, err := s.Entry(ctx, want[3])
	if err != nil || !held || e.ID != want[3] {
		t.Errorf("entry %v, %v, %v", e.ID, held, err)
	}
	if standing, device, ok := s.Author(want[0].Log); !ok || device != a.Device.ID() || standing.Certificate.Person != a.Device.Person {
		t.Error("the author isn't who wrote")
	}
	for _, b := range s.Branches() {
		if b.Log == a.Writer.Log && (b.Tip != a.Writer.Tip || b.Lamport != a.Writer.Lamport || b.Control || b.Device != a.Device.ID()) {
			t.Errorf("branch %+v", b)
		}
	}
}

// TestSearchTakesAnything finds by the beginnings of words, without accents,
// and takes nothing that is typed for syntax.
func TestSearchTakesAnything(t *testing.T) {
	ctx := context.Background()
	w := newWorld(20)
	a := w.Scout(w.Root, 2)
	names := []string{"Zoë O'Rourke-Lindqvist", "zoe martens", "Ångström 94", `quoted "AND" NEAR`}
	for i, name := range names {
		a.Write(prospect(byte(i)), value(1, name))
	}
	a.Write(a.Look(1), value(1, "zoe on third down"))
	s := storeOf(t, w)
	s.append(t, all(w)...)
	for text, want := range map[string]int{
		"zo": 2, "ZOE mart": 1, "o'rourke": 1, "rourke-lind": 1, "angst": 1, "94": 1, `"and"`: 1, "near": 1,
		"": 0, " - ": 0, `"`: 0, "zo* OR x": 0, "text:zoe": 0, "(zoe": 2, "zoe)": 2, "NEAR(a b)": 0, "\x00zo\xff": 2, "^zoe": 2, "nobody": 0,
	} {
		got, err := s.Search(ctx, text, mergetest.KindProspect, 0)
		if err != nil || len(got) != want {
			t.Errorf("search %q: %d found, %v, want %d", text, len(got), err, want)
		}
	}
	if got, err := s.Search(ctx, "zoe", 0, 0); err != nil || len(got) != 3 {
		t.Errorf("any kind: %d, %v", len(got), err)
	}
	if got, err := s.Search(ctx, "zoe", 0, 2); err != nil || len(got) != 2 {
		t.Errorf("limited: %d, %v", len(got), err)
	}
}

// TestASearchIndexesItsKindAlone looks among records of one kind while new and
// changed ones of two wait for the search index.
func TestASearchIndexesItsKindAlone(t *testing.T) {
	ctx := context.Background()
	w := newWorld(23)
	a := w.Scout(w.Root, 2)
	name, text := a.Write(prospect(1), value(1, "elm")), a.Write(a.Look(1), value(1, "elm on first down"))
	s := storeOf(t, w)
	s.append(t, all(w)...)
	finds := func(word string, kind entry.Kind, want int) {
		t.Helper()
		got, err := s.Search(ctx, word, kind, 0)
		if err != nil || len(got) != want {
			t.Errorf("search %q: %d found, %v, want %d", word, len(got), err, want)
		}
		if report, err := s.Verify(ctx, nil); err != nil || len(report.Faults) > 0 {
			t.Errorf("while words wait: %q, %v", report.Faults, err)
		}
	}
	waits := func(want ...entry.Kind) {
		t.Helper()
		got := s.held.Load().unworded(0)
		if got = slices.DeleteFunc(got, func(k entry.Kind) bool { return k != mergetest.KindProspect && k != mergetest.KindLook }); !slices.Equal(got, want) {
			t.Errorf("kinds %v wait, want %v", got, want)
		}
	}
	finds("elm", mergetest.KindProspect, 1)
	waits(mergetest.KindLook)
	finds("elm", mergetest.KindLook, 1)
	waits()

	before := len(w.Facts)
	a.Write(prospect(1), value(1, "oak", name))
	a.Write(a.Look(1), value(1, "oak on first down", text))
	s.append(t, since(w, before)...)
	waits(mergetest.KindProspect, mergetest.KindLook)
	finds("oak", mergetest.KindLook, 1)
	finds("elm", mergetest.KindLook, 0)
	waits(mergetest.KindProspect)
	check(t, s.Close())
	s = openAt(t, s.path, Options{Projector: projector{}})
	waits(mergetest.KindProspect)
	finds("oak", mergetest.KindProspect, 1)
	finds("elm", 0, 0)
	waits()
}

// TestAnotherProjectorBuildsAnew opens a store with a projector of another
// version.
func TestAnotherProjectorBuildsAnew(t *testing.T) {
	ctx := context.Background()
	w := newWorld(21)
	w.Scout(w.Root, 2).Write(prospect(1), value(1, "elm"))
	path := filepath.Join(t.TempDir(), "plumbline.db")
	s := openAt(t, path, Options{Staff: w.Staff})
	s.append(t, all(w)...)
	if got, err := s.Search(ctx, "elm", 0, 0); err != nil || len(got) != 0 {
		t.Errorf("found %d without a projector, %v", len(got), err)
	}
	check(t, s.Close())
	s = openAt(t, path, Options{Projector: projector{version: 3}})
	if got, err := s.Search(ctx, "elm", 0, 0); err != nil || len(got) != 1 {
		t.Errorf("found %d with one, %v", len(got), err)
	}
	if ids, _ := stale(t, s); len(ids) != 1 {
		t.Errorf("%d records are to be summed up", len(ids))
	}
}

// TestFewSignaturesAreKept writes single signed entries, as live charting
// does, and counts what is kept of the signatures.
func TestFewSignaturesAreKept(t *testing.T) {
	w := newWorld(22)
	a := w.Scout(w.Root, 2)
	for i := range 400 {
		a.Write(prospect(byte(i)), value(1, "elm"), value(2, string(make([]byte, 300))))
	}
	s := storeOf(t, w)
	each(t, s, w, w.Facts)
	var size, points int
	_, err := s.reader().one("SELECT (SELECT sum(length(header) + length(body)) FROM entry), (SELECT count(*) FROM point)", nil, &size, &points)
	check(t, err)
	if most := 2*size/keptSpacing + 2; points > most {
		t.Errorf("%d signatures are kept of %d bytes, at most %d", points, size, most)
	}
	report, err := s.Verify(context.Background(), nil)
	if err != nil || len(report.Faults) > 0 {
		t.Errorf("verify: %v, %v", report.Faults, err)
	}
}
