package node

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Invented data, in the trade's notation (common practice, no source).
const class = "name,position,school,class_year,height,weight,arm,source,date\n" +
	"Orrin Vale,LT,Salt Lick,2027,6046,305,334,listed,2026-08-01\n" +
	"Pim Rask,OG,Pine Bluffs,2027,6031,318,327,listed,2026-08-01\n"

func (l *laptop) load(kind, data string) ImportReport {
	l.t.Helper()
	r, err := l.Import(l.t.Context(), ImportRequest{Kind: kind, Data: []byte(data), File: "class.csv"})
	require.NoError(l.t, err)
	return r
}

func TestImportingTwiceDoublesNothing(t *testing.T) {
	a := found(t)
	r := a.load("prospect", class)
	require.Empty(t, r.Errors)
	require.Equal(t, 8, r.Added, "two prospects, three numbers each")
	before, err := a.Status(t.Context())
	require.NoError(t, err)
	r = a.load("prospect", class)
	require.Equal(t, ImportReport{Rows: 2, Unchanged: 8}, r)
	require.Empty(t, r.Remarks)
	after, err := a.Status(t.Context())
	require.NoError(t, err)
	require.Equal(t, before.StateHash, after.StateHash)
	l, err := a.List(t.Context(), ListQuery{Where: "arm >= 334"})
	require.NoError(t, err)
	require.Len(t, l.Rows, 1)
}

func TestTwoWhoImportOneListMakeTheSameRecords(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	a.load("prospect", class)
	b.load("prospect", class)
	connect(t, a, b)
	l, err := a.List(t.Context(), ListQuery{})
	require.NoError(t, err)
	require.Len(t, l.Rows, 2)
	conflicts, err := a.Conflicts(t.Context(), "")
	require.NoError(t, err)
	require.Empty(t, conflicts)
}

func TestAnImportReplacesOnlyItsOwn(t *testing.T) {
	a := found(t)
	a.load("prospect", class)
	l, err := a.List(t.Context(), ListQuery{Search: "Orrin"})
	require.NoError(t, err)
	id := l.Rows[0].ID
	// The list itself moves on: its own value is replaced.
	a.load("prospect", "name,school,class_year,jersey\nOrrin Vale,Salt Lick,2027,71\n")
	a.load("prospect", "name,school,class_year,jersey\nOrrin Vale,Salt Lick,2027,72\n")
	require.Equal(t, []string{"72"}, a.texts(id, "jersey"))
	// A person corrects it; reading the same list again changes nothing.
	a.set(id, "jersey", "79")
	r := a.load("prospect", "name,school,class_year,jersey\nOrrin Vale,Salt Lick,2027,72\n")
	require.Zero(t, r.Changed)
	require.Equal(t, []string{"79"}, a.texts(id, "jersey"))
	// The list says something new: it is kept beside what the person wrote.
	r = a.load("prospect", "name,school,class_year,jersey\nOrrin Vale,Salt Lick,2027,73\n")
	require.Equal(t, 1, r.Conflicts)
	require.ElementsMatch(t, []string{"79", "73"}, a.texts(id, "jersey"))
	require.Equal(t, []ImportedRecord{{
		Line: 2, Kind: "prospect", Title: "Orrin Vale", Fields: []ImportedField{{Name: "jersey", Before: "79", After: "73", Beside: true}},
	}}, r.Records)
}

// A list that says once more what it said before its last word changes nothing, since
// the table may be an old one, and that is told. What a person corrected is no news.
// Invented data.
func TestAListThatGoesBackToAFormerWordIsTold(t *testing.T) {
	a := found(t)
	list := func(jersey string) ImportReport {
		return a.load("prospect", "name,school,class_year,jersey\nOrrin Vale,Salt Lick,2027,"+jersey+"\n")
	}
	list("12")
	require.Empty(t, list("7").Remarks)
	r := list("12")
	require.Equal(t, 1, r.Unchanged)
	require.Equal(t, []string{"left as it is, since this list said so before, and has said something else since: line 2, jersey: 12, now 7. Who wants that back sets it on the record"}, r.Remarks)
	vale := a.only("Orrin Vale")
	require.Equal(t, []string{"7"}, a.texts(vale, "jersey"))
	a.set(vale, "jersey", "71")
	require.Empty(t, list("7").Remarks)
}

// What an import tells beforehand is what it does then, what differs from others
// first.
func TestADryRunTellsWhatBecomesOfEachRecord(t *testing.T) {
	a := found(t)
	a.load("prospect", class)
	table := "name,school,class_year,jersey\nAda Nye,Salt Lick,2027,11\nPim Rask,Pine Bluffs,2027,62\nOrrin Vale,Salt Lick,2027,71\n"
	tell := func(dry bool) []ImportedRecord {
		r, err := a.Import(t.Context(), ImportRequest{Kind: "prospect", Data: []byte(table), DryRun: dry})
		require.NoError(t, err)
		return r.Records
	}
	orrin, err := a.List(t.Context(), ListQuery{Search: "Orrin"})
	require.NoError(t, err)
	a.set(orrin.Rows[0].ID, "jersey", "17")
	told := tell(true)
	var order []string
	for _, r := range told {
		order = append(order, r.Title)
	}
	require.Equal(t, []string{"Orrin Vale", "Pim Rask", "Ada Nye Salt Lick"}, order)
	require.True(t, told[0].Fields[0].Beside)
	require.Equal(t, []ImportedField{{Name: "jersey", After: "62"}}, told[1].Fields)
	require.True(t, told[2].Added)
	require.Equal(t, 2, told[2].Line)
	require.Equal(t, told, tell(false))
	require.Empty(t, tell(true))
}

func TestABadRowStoresNothingUnlessAskedTo(t *testing.T) {
	a := found(t)
	bad := class + "Third One,wingback,Salt Lick,2027,6129,300,330,listed,2026-08-01\n"
	before, err := a.Status(t.Context())
	require.NoError(t, err)
	r := a.load("prospect", bad)
	require.NotEmpty(t, r.Errors)
	require.Equal(t, "class.csv", r.Errors[0].File)
	require.Equal(t, 4, r.Errors[0].Line)
	require.Equal(t, "position", r.Errors[0].Column)
	require.Equal(t, "wingback", r.Errors[0].Value)
	after, err := a.Status(t.Context())
	require.NoError(t, err)
	require.Equal(t, before.Entries, after.Entries)
	r, err = a.Import(t.Context(), ImportRequest{Kind: "prospect", Data: []byte(bad), Partial: true})
	require.NoError(t, err)
	require.Equal(t, 8, r.Added)
}

func TestRepsFindTheProspectThatTheyAreAbout(t *testing.T) {
	a := found(t)
	id := a.add("prospect", "name", "Orrin Vale", "school", "Salt Lick", "class_year", "2027")
	r := a.load("rep", "name,school,class_year,game_date,home,away,number,quarter,play,result\n"+
		"Orrin Vale,Salt Lick,2027,2026-09-05,Salt Lick,Pine Bluffs,1,1,pass,won\n"+
		"Orrin Vale,Salt Lick,2027,2026-09-05,Salt Lick,Pine Bluffs,2,1,pass,lost\n"+
		"Orrin Vale,Salt Lick,2027,2026-09-05,Salt Lick,Pine Bluffs,3,2,run,won\n")
	require.Empty(t, r.Errors)
	l, err := a.List(t.Context(), ListQuery{Where: "reps == 3 && won_share > 0.6"})
	require.NoError(t, err)
	require.Len(t, l.Rows, 1)
	require.Equal(t, id, l.Rows[0].ID)
}

// The percentile is that of testdata/reference/percentiles.json; here it
// reaches the reader, within the position and with the size of the cohort.
func TestStandingIsAmongTheProspectsOfThePosition(t *testing.T) {
	a := found(t)
	a.load("prospect", class+"Third One,tackle,Salt Lick,2027,6050,300,341,listed,2026-08-01\nFourth One,guard,Salt Lick,2027,6050,300,350,listed,2026-08-01\n")
	l, err := a.List(t.Context(), ListQuery{Where: "arm_percentile >= 75.0", Columns: []string{"name", "arm_percentile", "arm_cohort"}, Sort: []string{"name"}})
	require.NoError(t, err)
	require.Len(t, l.Rows, 2)
	require.Equal(t, []any{"Fourth One", 75.0, int64(2)}, l.Rows[0].Cells)
	require.Equal(t, []any{"Third One", 75.0, int64(2)}, l.Rows[1].Cells)
	d, err := a.Get(t.Context(), "Orrin Vale", false, "")
	require.NoError(t, err)
	require.Equal(t, 25.0, d.Summary["arm_percentile"])
}

// A slip of the pen in a table of reps makes a prospect: the import says so.
func TestAnImportSaysWhomItMakesByNamingThem(t *testing.T) {
	a := found(t)
	a.load("prospect", class)
	r := a.load("rep", "name,school,class_year,game_date,home,away,number,result\n"+
		"Orin Vale,Salt Lick,2027,2026-09-05,Salt Lick,Pine Bluffs,1,won\n")
	require.Len(t, r.Remarks, 2, "the prospect and the game")
	require.Contains(t, r.Remarks[0]+r.Remarks[1], "Orrin Vale")
}

// A row that could mean either of two prospects is told of like any bad row, and
// the rest of the table can be had without it.
func TestARowThatCouldMeanTwoIsABadRow(t *testing.T) {
	a := found(t)
	for range 2 {
		a.add("prospect", "name", "Orrin Vale", "school", "Salt Lick", "class_year", "2027")
	}
	table := "name,school,class_year,what,reading,source\nPim Rask,Salt Lick,2027,arm,334,verified\n" +
		"Orrin Vale,Salt Lick,2027,arm,330,verified\nOrrin Vale,Salt Lick,2027,hand,100,verified\n"
	q := ImportRequest{Kind: "measurement", Data: []byte(table), File: "arms.csv"}
	r, err := a.Import(t.Context(), q)
	require.NoError(t, err)
	require.Zero(t, r.Added)
	require.Len(t, r.Errors, 1)
	require.Equal(t, 3, r.Errors[0].Line)
	require.Contains(t, r.Errors[0].Rule, "name one by its id")
	q.Partial = true
	r, err = a.Import(t.Context(), q)
	require.NoError(t, err)
	require.Equal(t, 2, r.Added, "the prospect who is new, and his arm")
	faults, err := a.Verify(t.Context(), func(uint64, uint64) {})
	require.NoError(t, err)
	require.Empty(t, faults)
}
