package node

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"plumbline/node/workbook"
)

// Invented data; the second name is what a spreadsheet would calculate.
func TestAWorkbookThatComesBackChangesNothing(t *testing.T) {
	a := found(t)
	a.load("prospect", class+"=1+1,QB,@Harbor,2027,6021,,,listed,\n")
	q := ExportRequest{Kind: "prospect", Columns: []string{"name", "position", "school", "class_year", "height"}, Format: "xlsx"}
	table, rows, err := a.Export(t.Context(), q)
	require.NoError(t, err)
	require.Equal(t, 3, rows)
	again, _, err := a.Export(t.Context(), q)
	require.NoError(t, err)
	require.True(t, bytes.Equal(table, again))

	sheet, err := workbook.Read(table, "", workbook.Limits{Rows: 10, Columns: 10, Cell: 1000})
	require.NoError(t, err)
	require.Equal(t, "prospect", sheet.Name)
	require.Equal(t, []string{"record", "name", "position", "school", "class_year", "height"}, sheet.Rows[0].Cells)
	require.Equal(t, []string{"=1+1", "quarterback", "@Harbor", "2027", "6021"}, sheet.Rows[1].Cells[1:])

	before, err := a.Status(t.Context())
	require.NoError(t, err)
	r, err := a.Import(t.Context(), ImportRequest{
		Kind: "prospect", Data: table, File: "class.xlsx", Sheet: "prospect",
		Headers: map[string]string{"record": "-", "height": "-"},
	})
	require.NoError(t, err)
	require.Equal(t, ImportReport{Rows: 3, Unchanged: 3}, r)
	after, err := a.Status(t.Context())
	require.NoError(t, err)
	require.Equal(t, before.StateHash, after.StateHash)

	r, err = a.Import(t.Context(), ImportRequest{Kind: "prospect", Data: table, File: "class.xlsx", Headers: map[string]string{"record": "-"}, Defaults: map[string]string{"source": "guess"}})
	require.NoError(t, err)
	require.Len(t, r.Errors, 3)
	require.Equal(t, "prospect", r.Errors[0].Sheet)
	require.Empty(t, r.Errors[0].Cell, "a default stands in no cell")

	q.Format = "ods"
	_, _, err = a.Export(t.Context(), q)
	require.ErrorIs(t, err, ErrInvalid)
}

// A list saved as it stands, with its ids and figures, comes back as the same
// records.
func TestASavedListComesBack(t *testing.T) {
	a := found(t)
	a.load("prospect", class)
	for _, format := range []string{"csv", "xlsx"} {
		table, _, err := a.Export(t.Context(), ExportRequest{Kind: "prospect", Format: format})
		require.NoError(t, err)
		before, err := a.Status(t.Context())
		require.NoError(t, err)
		r, err := a.Import(t.Context(), ImportRequest{Kind: "prospect", Data: table, File: "saved." + format})
		require.NoError(t, err)
		require.Empty(t, r.Errors)
		require.Equal(t, r.Rows, r.Unchanged)
		require.Len(t, r.Remarks, 2)
		for i, names := range [][]string{{"height", "weight", "arm"}, {"overall", "evaluations", "looks", "reps", "won_share"}} {
			require.True(t, strings.HasSuffix(r.Remarks[i], ": "+strings.Join(names, ", ")), r.Remarks[i])
		}
		after, err := a.Status(t.Context())
		require.NoError(t, err)
		require.Equal(t, before.StateHash, after.StateHash)
	}
}

// A list of reps saved as it stands changes nothing; a cell that was changed in
// it is a change of that rep, if it is one's own. Invented data.
func TestASavedListOfRepsComesBack(t *testing.T) {
	a, reps := packedWorld(t)
	for _, format := range []string{"csv", "xlsx"} {
		table, rows, err := a.Export(t.Context(), ExportRequest{Kind: "rep", Format: format})
		require.NoError(t, err)
		require.Greater(t, rows, 100)
		r, err := a.Import(t.Context(), ImportRequest{Kind: "rep", Data: table, File: "reps." + format})
		require.NoError(t, err)
		require.Empty(t, r.Errors)
		require.Equal(t, []int{rows, 0, 0, rows}, []int{r.Rows, r.Added, r.Changed, r.Unchanged}, "%v", r.Records)
		outline, err := a.Outline(ImportRequest{Kind: "rep", Data: table, File: "reps." + format})
		require.NoError(t, err)
		for _, c := range outline.Columns {
			require.Equal(t, c.Head, c.Field, "a person would be asked where it goes")
		}
	}
	mine, other := reps[0].String(), a.add("person", "name", "Wim Alder").String()
	all, err := a.List(t.Context(), ListQuery{Kind: "rep", Where: `by == "Tove Lund"`, Limit: 1})
	require.NoError(t, err)
	theirs := all.Rows[0].ID.String()
	for _, c := range []struct {
		record, says string
	}{{mine, ""}, {theirs, "is Tove Lund's"}, {other, "no rep has this id"}, {"", "Fill in record"}} {
		r, err := a.Import(t.Context(), ImportRequest{Kind: "rep", Data: []byte("record,look,yard_line\n" + c.record + ",whatever,own 3\n"), File: "reps.csv"})
		require.NoError(t, err)
		if c.says == "" {
			require.Empty(t, r.Errors)
			require.Equal(t, 1, r.Changed)
			continue
		}
		require.Len(t, r.Errors, 1)
		require.Contains(t, r.Errors[0].Rule, c.says)
	}
}

// What people wrote into a list is no formula either, and comes back as it was; nor is
// a person's name among those who had a look. Invented data.
func TestAListsWordsAreNoFormulas(t *testing.T) {
	a := found(t)
	vale := a.add("prospect", "name", "Orrin Vale", "school", "Salt Lick", "class_year", "2027")
	look := a.add("look", "prospect", vale.String(), "game", a.add("game", "date", "2026-09-05", "home", "Salt Lick", "away", "Tin Valley").String())
	for i, seen := range []string{"=1+1, late_hands", "'=1+1"} {
		a.add("rep", "look", look.String(), "number", fmt.Sprint(i+1), "seen", seen)
	}
	a.set(personRecord(a.person()), "name", "=1+1")
	require.Contains(t, string(a.exported("prospect", "name", "seen_by")), ",'=1+1")
	for _, format := range []string{"csv", "xlsx"} {
		table, _, err := a.Export(t.Context(), ExportRequest{Kind: "rep", Columns: []string{"number", "seen"}, Format: format})
		require.NoError(t, err)
		require.NotContains(t, string(table), `,"=1+1`)
		r, err := a.Import(t.Context(), ImportRequest{Kind: "rep", Data: table, File: "reps." + format})
		require.NoError(t, err)
		require.Empty(t, r.Errors)
		require.Equal(t, [2]int{2, 0}, [2]int{r.Unchanged, r.Changed}, "%v", r.Records)
	}
}
