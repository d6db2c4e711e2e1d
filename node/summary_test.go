package node

import (
	"database/sql"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
)

func (l *laptop) cell(id, column string) any {
	l.t.Helper()
	list, err := l.List(l.t.Context(), ListQuery{Columns: []string{column}})
	require.NoError(l.t, err)
	for _, row := range list.Rows {
		if row.ID.String() == id {
			return row.Cells[0]
		}
	}
	return nil
}

// Who had a look is told by the name that they have now, also where the look
// came over before the name.
func TestWhoHadALookIsToldByTheirNameOfNow(t *testing.T) {
	a := found(t)
	id := a.add("prospect", "name", "Orrin Vale")
	a.add("look", "prospect", id.String(), "mode", "film")
	require.Equal(t, []any{"Maren Ostrava"}, a.cell(id.String(), "seen_by"))
	s, err := a.Status(t.Context())
	require.NoError(t, err)
	a.set(personRecord(s.Author.Person), "name", "Maren Ost")
	require.Equal(t, []any{"Maren Ost"}, a.cell(id.String(), "seen_by"))
	d, err := a.Get(t.Context(), id.String(), false, "")
	require.NoError(t, err)
	require.Equal(t, []any{"Maren Ost"}, d.Summary["seen_by"])
}

// What was read before a change must not be kept as what came of it.
func TestASummaryIsMadeOfWhatStandsWhenItIsMade(t *testing.T) {
	a := found(t)
	first := a.add("prospect", "name", "Orrin Vale", "school", "Salt Lick")
	second := a.add("prospect", "name", "Orin Vale")
	r := a.reader(t.Context())
	_, err := r.find(0, first.String())
	require.NoError(t, err)
	a.set(first, "school", "Harbor Point")
	_, err = a.Same(t.Context(), first.String(), second.String(), false)
	require.NoError(t, err)
	_, err = r.prospects(false, func(listed) (bool, error) { return true, nil }, nil)
	require.NoError(t, err)
	l, err := a.List(t.Context(), ListQuery{Columns: []string{"school"}})
	require.NoError(t, err)
	require.Len(t, l.Rows, 1)
	require.Equal(t, "Harbor Point", l.Rows[0].Cells[0])
}

// Whatever people do, the summaries that are kept are those that would be made
// anew, and alike on a laptop to which everything came in one go.
func TestKeptSummariesAreThoseThatWouldBeMadeAnew(t *testing.T) {
	for seed := range uint64(4) {
		t.Run(fmt.Sprint("seed ", seed), func(t *testing.T) { workAtRandom(t, rand.New(rand.NewPCG(seed, 7))) })
	}
}

func workAtRandom(t *testing.T, random *rand.Rand) {
	a := found(t)
	b := join(t, a, "Tove Lund", true)
	connect(t, a, b)
	b.alone()
	s, err := a.Status(t.Context())
	require.NoError(t, err)
	self := personRecord(s.Author.Person)
	var prospects, others []entry.RecordID
	one := func(of []entry.RecordID) entry.RecordID { return of[random.IntN(len(of))] }
	for i := range 5 {
		prospects = append(prospects, a.add("prospect", "name", fmt.Sprint("Orrin Vale ", i), "position", "tackle"))
	}
	for i := range 120 {
		p := one(prospects)
		switch random.IntN(9) {
		case 0:
			others = append(others, a.add("look", "prospect", p.String(), "mode", "film"))
		case 1:
			others = append(others, a.add("measurement", "prospect", p.String(), "what", "arm", "reading", fmt.Sprint(300+i%8, " verified 2026-03-01")))
		case 2:
			school := fmt.Sprint("School ", i%3)
			if !a.field(p, "school").Conflict {
				a.set(p, "school", school)
				break
			}
			a.settle(p, "school", school)
		case 3, 4:
			if q := one(prospects); q != p {
				a.same(p, q, random.IntN(2) == 0)
			}
		case 5:
			a.retire(one(append(others, p)).String())
		case 6:
			a.keep(one(append(others, p)).String())
		case 7:
			if len(others) > 0 && others[len(others)-1].Kind() == record.Look {
				a.add("rep", "look", others[len(others)-1].String(), "number", fmt.Sprint(i+1), "result", "won")
			}
		case 8:
			a.set(self, "name", fmt.Sprint("Maren ", i%2))
		}
		require.Equal(t, a.anew(), a.kept(), "after step %d", i)
	}
	b.restart()
	connect(t, a, b)
	require.Equal(t, a.kept(), b.kept())
}

// kept are the summaries as a listing finds them.
func (l *laptop) kept() map[string]map[string]any {
	rows, err := l.overview.all(l.reader(l.t.Context()))
	require.NoError(l.t, err)
	all := map[string]map[string]any{}
	for _, row := range rows {
		all[row.id.String()] = row.all()
	}
	return all
}

// anew are the summaries made from all records.
func (l *laptop) anew() map[string]map[string]any {
	all := map[string]map[string]any{}
	for stored, err := range l.store.Records(l.t.Context(), storage.Query{Kind: record.Prospect, Hidden: true}) {
		require.NoError(l.t, err)
		r := l.reader(l.t.Context())
		g, ok := r.group(stored.ID)
		require.True(l.t, ok)
		data, err := json.Marshal(r.summarize(g))
		require.NoError(l.t, err)
		s, err := decodeSummary(data)
		require.NoError(l.t, err)
		names := map[string]string{}
		for _, id := range s.SeenBy {
			person, err := entry.ParsePersonID(id)
			require.NoError(l.t, err)
			names[id] = r.personName(person)
		}
		all[g.leader.String()] = newSharing().keep(g.leader, s, names).listed().all()
	}
	return all
}

// TestWhatIsWorkedOutAheadLetsListsGoFirst holds a list up, and sees that nothing is
// worked out until it is answered, and all of it then.
func TestWhatIsWorkedOutAheadLetsListsGoFirst(t *testing.T) {
	a := found(t)
	due := func() int {
		stale, _, err := a.store.StaleSummaries(t.Context())
		require.NoError(t, err)
		return len(stale)
	}
	a.asking.Add(1)
	a.add("prospect", "name", "Orrin Vale")
	<-time.After(2 * calm) // tidying has its time to begin
	require.Equal(t, 1, due())
	a.asking.Add(-1)
	require.Eventually(t, func() bool { return due() == 0 }, 30*time.Second, 5*time.Millisecond)
}

// TestAListDoesntWaitForTheWriter asks for prospects whose summaries are out of date
// while a large table is stored, and while what was made ahead waits for that.
func TestAListDoesntWaitForTheWriter(t *testing.T) {
	a := found(t)
	id := a.add("prospect", "name", "Orrin Vale")
	for i := range 4 {
		a.add("prospect", "name", fmt.Sprint("Prospect ", i))
	}
	require.Equal(t, a.anew(), a.kept())
	a.importing.Add(1) // nothing is tidied by itself while a table is read
	a.set(id, "jersey", "71")
	look := a.add("look", "prospect", id.String(), "date", "2031-10-04")
	release := a.holdUpWriter()
	ahead := make(chan error, 1)
	go func() {
		_, err := a.overview.tidy(a.reader(t.Context()))
		ahead <- err
	}()
	<-time.After(50 * time.Millisecond) // tidying has its time to get hold of what lists need
	for range 2 {
		require.Equal(t, a.anew(), a.kept())
		require.Equal(t, "71", a.cell(id.String(), "jersey"))
	}
	left, _, err := a.store.StaleSummaries(t.Context())
	require.NoError(t, err)
	require.NotEmpty(t, left, "nothing could be stored")
	select {
	case err := <-ahead:
		t.Fatalf("nobody held up the writer: %v", err)
	default:
	}
	release()
	require.NoError(t, <-ahead)
	a.add("rep", "look", look.String(), "number", "1", "result", "won")
	require.Equal(t, a.anew(), a.kept())
	left, _, err = a.store.StaleSummaries(t.Context())
	require.NoError(t, err)
	require.Empty(t, left)
	a.restart()
	require.Equal(t, a.anew(), a.kept(), "what was stored is what was shown")
}

// TestAListIsRightAfterItCouldNotBeKept lets the database refuse to keep summaries for
// a while, as a disk does that is full.
func TestAListIsRightAfterItCouldNotBeKept(t *testing.T) {
	a := found(t)
	id := a.add("prospect", "name", "Orrin Vale")
	for i := range 4 { // after a change of most of them all would be read again
		a.add("prospect", "name", fmt.Sprint("Prospect ", i))
	}
	require.Equal(t, a.anew(), a.kept())
	a.importing.Add(1) // nothing is tidied by itself while a table is read
	a.set(id, "jersey", "71")
	db, err := sql.Open("sqlite", filepath.Join(a.cfg.Data, databaseFile))
	require.NoError(t, err)
	defer db.Close()
	_, err = db.Exec("CREATE TRIGGER refuse BEFORE INSERT ON summary BEGIN SELECT RAISE(ABORT, 'refused'); END")
	require.NoError(t, err)
	_, err = a.List(t.Context(), ListQuery{})
	require.ErrorContains(t, err, "refused")
	_, err = db.Exec("DROP TRIGGER refuse")
	require.NoError(t, err)
	require.Equal(t, "71", a.cell(id.String(), "jersey"))
	require.Equal(t, a.anew(), a.kept())
	a.restart()
	require.Equal(t, a.anew(), a.kept())
}
