package node

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// What a person edited in an export is their own word, as if it were set by hand: the
// list's next file stands beside it, whatever the list is called and whether or not
// it was named with the edit. Invented data.
func TestNoListReplacesWhatWasEditedInAnExport(t *testing.T) {
	const table = "list_id,name,school,class_year,jersey\n17,Orrin Vale,Salt Lick,2027,"
	for name, by := range map[string]struct {
		list, edit string
		hand       bool
	}{
		"by hand":              {hand: true},
		"no list named":        {},
		"a list named":         {list: "North list"},
		"named with the edits": {list: "North list", edit: "North list"},
	} {
		t.Run(name, func(t *testing.T) {
			a := found(t)
			read := func(jersey string) ImportReport {
				return a.imports(ImportRequest{Source: by.list, Data: []byte(table + jersey + "\n")})
			}
			edit := func(jersey string) {
				if by.hand {
					a.set(a.only("Orrin Vale"), "jersey", jersey)
					return
				}
				table := edited(t, a.exported("prospect", "name", "jersey"), func(rows [][]string) [][]string {
					rows[1][in(rows, "jersey")] = jersey
					return rows
				})
				require.Equal(t, 1, a.imports(ImportRequest{Source: by.edit, Data: table}).Changed)
				before := a.entries()
				require.Equal(t, 1, a.imports(ImportRequest{Source: by.edit, Data: table}).Unchanged, "read again")
				require.Equal(t, before, a.entries())
			}
			read("12")
			orrin := a.only("Orrin Vale")
			edit("71")
			require.Equal(t, by.edit != by.list, len(a.texts(orrin, "jersey")) == 2, "an edit replaces what the list that is named said")
			require.Equal(t, 1, read("12").Unchanged)
			for _, jersey := range []string{"13", "14"} {
				require.Equal(t, 1, read(jersey).Conflicts)
				require.ElementsMatch(t, []string{"71", jersey}, a.texts(orrin, "jersey"), "a list replaces its own alone")
			}
			if by.hand {
				return // what is in conflict is settled by hand
			}
			edit("72")
			require.NotContains(t, a.texts(orrin, "jersey"), "71", "an edit replaces an edit")
			require.Equal(t, by.edit != by.list, len(a.texts(orrin, "jersey")) == 2)
		})
	}
}

// A list's id that was written in an export names its player for that list, as before:
// nobody is entered twice. No list can be called as edits are.
func TestAListsIDInAnExportNamesItsPlayer(t *testing.T) {
	a := found(t)
	wes := a.add("prospect", "name", "Wes Tarn", "school", "Low Ridge", "class_year", "2027")
	const list = "list_id,name,school,class_year\n50,Wes P. Tarn,Low Ridge,2027\n"
	a.imports(ImportRequest{Data: []byte("record,list_id\n" + wes.String() + ",50\n")})
	r := a.imports(ImportRequest{Data: []byte(list)})
	require.Equal(t, [3]int{0, 1, 1}, [3]int{r.Added, r.Changed, r.Conflicts})
	require.Equal(t, 1, a.listed("true"))
	_, err := a.Import(t.Context(), ImportRequest{Kind: "prospect", Source: "edited export: list", Data: []byte(list)})
	require.ErrorIs(t, err, ErrInvalid)
	require.ErrorContains(t, err, "give the list another name")
}

// What a person alone edited and replaced stays behind when they join a staff (ledger
// rule 33): what they wrote in an export too. Invented data.
func TestRule33AnEditThatWasReplacedStaysBehind(t *testing.T) {
	a, b := found(t), wroteAlone(t, "Tove Lund")
	b.importList(northList)
	vale := b.only("Orrin Vale")
	for _, note := range []string{"Mine alone.", "For everybody."} {
		r := b.imports(ImportRequest{Data: []byte("record,note\n" + vale.String() + "," + note + "\n")})
		require.Empty(t, r.Errors)
	}
	pair(t, a, b, "Tove Lund", false)
	b.reopen()
	require.Contains(t, b.texts(vale, "note"), "For everybody.")
	history, err := b.History(t.Context(), vale.String())
	require.NoError(t, err)
	for _, revision := range history {
		for _, field := range revision.Fields {
			require.NotEqual(t, "Mine alone.", field.Text)
		}
	}
}
