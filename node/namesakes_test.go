package node

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// reps imports a table of reps.
func (l *laptop) reps(source, table string) ImportReport {
	l.t.Helper()
	r, err := l.Import(l.t.Context(), ImportRequest{Kind: "rep", Source: source, Data: []byte(table)})
	require.NoError(l.t, err)
	require.Empty(l.t, r.Errors)
	return r
}

// Whom a row was matched to is known by the row's key from then on: for the same file,
// for tables that name him by that key alone, and on other laptops. The values say nothing
// of it: where they are those that stood there, and after somebody settled them.
func TestAMatchIsRemembered(t *testing.T) {
	for name, list := range map[string]struct{ table, rep string }{
		"list id":       {"list_id,name,school,class_year,arm,source\n50,Wes Tarn,Low Ridge,2027,334,verified\n", "list_id,number,date,home,away\n50,1,2026-10-03,Low Ridge,Salt Lick\n"},
		"no list id":    {"name,school,class_year,arm,source\nWes Tarn,Low Ridge,2027,334,verified\n", "name,school,class_year,number,date,home,away\nWes Tarn,Low Ridge,2027,1,2026-10-03,Low Ridge,Salt Lick\n"},
		"another place": {"list_id,name,school,class_year,hometown,arm,source\n50,\"Tarn, Wes\",Low Ridge,2027,Tin Valley,334,verified\n", "list_id,number,date,home,away\n50,1,2026-10-03,Low Ridge,Salt Lick\n"},
	} {
		t.Run(name, func(t *testing.T) {
			a := found(t)
			wes := a.add("prospect", "name", "Wes Tarn", "school", "Low Ridge", "class_year", "2027", "hometown", "Marrow Hill")
			a.add("measurement", "prospect", wes.String(), "reading", "arm 334 verified")
			r := a.imports(ImportRequest{Source: "Other", Data: []byte(list.table), Namesakes: MatchNamesakes})
			require.Equal(t, [3]int{0, 1, 1}, [3]int{r.Added, r.Changed, r.Unchanged}, "the number is here already: %+v", r.Records)
			require.Equal(t, 1, a.listed("true"))
			before := a.entries()
			for range 2 {
				r = a.imports(ImportRequest{Source: "Other", Data: []byte(list.table)})
				require.Equal(t, [3]int{0, 2, 0}, [3]int{r.Added, r.Unchanged, r.NamesakeRows})
			}
			require.Equal(t, before, a.entries())
			if g, ok := a.reader(t.Context()).group(wes); ok && len(a.texts(wes, "hometown")) > 1 {
				a.settle(g.leader, "hometown", "Low Ridge")
			}
			a.reps("Other", list.rep)
			require.Equal(t, 1, a.listed("true"))
			require.Equal(t, 1, a.listed("looks == 1"))
			require.Zero(t, a.imports(ImportRequest{Source: "Other", Data: []byte(list.table)}).Changed)

			b := join(t, a, "Tove Lund", false)
			connect(t, a, b)
			agree(t, a, b)
			r = b.imports(ImportRequest{Source: "Other", Data: []byte(list.table)})
			require.Equal(t, [4]int{0, 0, 2, 0}, [4]int{r.Added, r.Changed, r.Unchanged, r.NamesakeRows})
			b.reps("Other", list.rep)
			require.Equal(t, 1, b.listed("true"))
			require.Equal(t, 1, b.listed("looks == 2"))
		})
	}
}

// A match that was a mistake is taken apart again, and stays so.
func TestAMatchCanBeTakenApart(t *testing.T) {
	a := found(t)
	wes := a.add("prospect", "name", "Wes Tarn", "school", "Low Ridge", "jersey", "7")
	const list = "list_id,name,school,class_year,jersey\n50,Wes Tarn,Low Ridge,2028,8\n"
	a.imports(ImportRequest{Data: []byte(list), Namesakes: MatchNamesakes})
	require.ElementsMatch(t, []string{"7", "8"}, a.texts(wes, "jersey"))
	g, ok := a.reader(t.Context()).group(wes)
	require.True(t, ok)
	require.Len(t, g.members, 2)
	a.same(g.members[0].ID, g.members[1].ID, true)
	require.Equal(t, []string{"7"}, a.texts(wes, "jersey"))
	r := a.imports(ImportRequest{Data: []byte(list)})
	require.Equal(t, [2]int{1, 0}, [2]int{r.Unchanged, r.NamesakeRows})
	require.Equal(t, 2, a.listed("true"))
}

// What a list said of a player under another key is replaced when a row is matched to
// him: a list isn't in conflict with itself.
func TestAMatchReplacesWhatTheListSaid(t *testing.T) {
	a := found(t)
	a.imports(ImportRequest{Data: []byte("name,school,class_year,jersey,hometown\nWes Tarn,Low Ridge,2027,7,Marrow Hill\n")})
	wes := a.only("Wes Tarn")
	r := a.imports(ImportRequest{Namesakes: MatchNamesakes, Data: []byte("name,school,class_year,list_id,jersey,hometown\nWes Tarn,Low Ridge,2027,50,8,Marrow Hill\n")})
	require.Equal(t, [3]int{0, 1, 0}, [3]int{r.Added, r.Changed, r.Conflicts})
	require.Subset(t, []string{"8"}, a.texts(wes, "jersey"))
	require.Equal(t, 1, a.listed("conflicts == 0"))
}

// A prospect whom a table only named by his list's id has no name until the list comes:
// that it may be one who is here is asked then.
func TestANamelessProspectWhoGetsAKnownNameIsAskedAbout(t *testing.T) {
	for said, want := range map[Namesakes]int{MatchNamesakes: 1, NewNamesakes: 2} {
		a := found(t)
		a.add("prospect", "name", "Wes Tarn", "school", "Low Ridge", "class_year", "2027")
		const rep, list = "list_id,number,date,home,away\n50,1,2026-10-03,Low Ridge,Salt Lick\n", "list_id,name,school,class_year\n50,Wes Tarn,Low Ridge,2027\n"
		require.Contains(t, a.reps("Other", rep).Remarks[0], "makes a new prospect, 50, ")
		r := a.imports(ImportRequest{Source: "Other", Data: []byte(list)})
		require.Equal(t, [3]int{1, 0, 0}, [3]int{r.NamesakeRows, r.Changed, r.Added})
		for range 2 {
			r = a.imports(ImportRequest{Source: "Other", Data: []byte(list), Namesakes: said})
			require.Zero(t, r.NamesakeRows)
			require.Equal(t, want, a.listed("true"))
			require.Equal(t, want, a.listed(`name == "Wes Tarn"`))
		}
		require.Equal(t, 1, r.Unchanged)
		require.Equal(t, 1, a.listed("looks == 1"))
	}
}

// A list's id names whom it was written to: by the list, whatever record a row gave, and
// by hand if there is nothing else to go by.
func TestAListsIDNamesAProspect(t *testing.T) {
	a := found(t)
	hand := a.add("prospect", "name", "Ada Nye", "list_id", "51")
	wes := a.add("prospect", "name", "Wes Tarn", "school", "Low Ridge", "class_year", "2027")
	a.imports(ImportRequest{Source: "Other", Data: []byte("record,list_id\n" + wes.String() + ",50\n")})
	before := a.listed("true")
	r := a.imports(ImportRequest{Source: "Other", Data: []byte("list_id,name,school,class_year\n50,Wes Tarn,Low Ridge,2027\n")})
	require.Equal(t, [2]int{1, 0}, [2]int{r.Unchanged, r.NamesakeRows})
	a.reps("Other", "list_id,number,date,home,away\n50,1,2026-10-03,Low Ridge,Salt Lick\n51,1,2026-10-03,Low Ridge,Salt Lick\n")
	require.Equal(t, before, a.listed("true"))
	require.Equal(t, 2, a.listed("looks == 1"))
	// Another list's 50 is another player, and that of one who is called so twice isn't guessed.
	a.reps("Third", "list_id,number,date,home,away\n50,1,2026-10-03,Low Ridge,Salt Lick\n")
	require.Equal(t, before+1, a.listed("true"))
	a.add("prospect", "name", "Cal Ode", "list_id", "51")
	got, err := a.Import(t.Context(), ImportRequest{Kind: "rep", Source: "Fourth", Data: []byte("list_id,number,date,home,away\n51,2,2026-10-03,Low Ridge,Salt Lick\n")})
	require.NoError(t, err)
	require.Len(t, got.Errors, 1)
	require.Contains(t, got.Errors[0].Rule, `"51" fits 2 prospects`)
	require.Contains(t, got.Errors[0].Rule, hand.String())
}

// A row that says "new" is about none of those who are here, whatever the list's key for
// the name has meant before. Read again it is the one whom it entered.
func TestANewOneIsNoneOfThoseWhoAreHere(t *testing.T) {
	a := found(t)
	a.load("prospect", "name,school,class_year,jersey\nOrrin Vale,Salt Lick,2027,71\n")
	orrin := a.only("Orrin Vale")
	for _, rows := range []struct {
		table  string
		listed int
	}{
		{"new,Orrin Vale,Salt Lick,2027,99\n", 2},
		{"new,Orrin Vale,Salt Lick,2027,98\nNEW,Orrin Vale,Salt Lick,2027,97\n", 4}, // two of them at once
		{"new,orrin  vale,Salt Lick,2027,71\n", 5},                                  // who says what the first one does
		{orrin.String() + ",Orrin Vale,Salt Lick,2027,72\n", 5},
	} {
		before := a.listed("true")
		for again := range 2 {
			r := a.imports(ImportRequest{Data: []byte("record,name,school,class_year,jersey\n" + rows.table)})
			require.Empty(t, r.Errors)
			require.Zero(t, r.NamesakeRows)
			require.Equal(t, []int{rows.listed - before, 0}[again], r.Added, rows.table)
			require.Equal(t, rows.listed, a.listed("true"))
		}
	}
	require.Equal(t, []string{"72"}, a.texts(orrin, "jersey"))
	r := a.imports(ImportRequest{Data: []byte("record,name,school,class_year\nnew,Ada Nye,Salt Lick,2027\nnew,Ada Nye,Salt Lick,2027\n")})
	require.Len(t, r.Errors, 1, "nothing tells the two apart")
	require.Contains(t, r.Errors[0].Rule, "line 2 says the same of a prospect that is new")
	// By the list's own id it is whom the list knows by that, in whichever table.
	r = a.imports(ImportRequest{Data: []byte("record,list_id,name,school,class_year,jersey\nnew,20,Orrin Vale,Salt Lick,2027,60\n")})
	require.Equal(t, 1, r.Added)
	r = a.imports(ImportRequest{Data: []byte("list_id,name,school,class_year,jersey\n20,Orrin Vale,Salt Lick,2027,61\n")})
	require.Equal(t, [2]int{0, 1}, [2]int{r.Added, r.Changed})
}
