package node

import (
	"bytes"
	"encoding/csv"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// No cell of an exported row is edited for nothing without a word: whatever its kind
// and its column are, it is written, refused or told.
func TestNoEditedCellVanishes(t *testing.T) {
	a := oddWorld(t)
	for _, kind := range tableKinds {
		name := kindOr(kind, "")
		for _, columns := range columnsOfKind(t, kind) {
			table := a.exported(name, columns...)
			rows, err := csv.NewReader(bytes.NewReader(table)).ReadAll()
			require.NoError(t, err)
			for at := 1; at < len(rows[0]); at++ {
				for _, text := range []string{"", "8"} {
					if was := rows[1][at]; was == text || strings.TrimSpace(was) == text {
						continue
					}
					edit := edited(t, table, func(rows [][]string) [][]string {
						rows[1][at] = text
						return rows[:2]
					})
					r, err := a.Import(t.Context(), ImportRequest{Kind: name, Data: edit, DryRun: true})
					require.NoError(t, err)
					said := len(r.Errors) > 0 || r.Changed > 0 || strings.Contains(strings.Join(r.Remarks, "\n"), "line 2, "+rows[0][at]+": ")
					require.True(t, said, "%s, %s: %q for %q: %+v", name, rows[0][at], text, rows[1][at], r)
				}
			}
		}
	}
}

// Each grade has a column of its own in an export, so that it can be edited there.
func TestAnEditedGradeIsWritten(t *testing.T) {
	a := found(t)
	orrin := a.add("prospect", "name", "Orrin Vale", "school", "Salt Lick")
	pim := a.add("prospect", "name", "Pim Rask", "school", "Low Ridge")
	id := a.add("evaluation", "prospect", orrin.String(), "overall", "6", "grades.hand_use", "5", "grades.feet", "6")
	a.add("evaluation", "prospect", pim.String(), "overall", "4", "grades.anchor", "3")
	rows, err := csv.NewReader(bytes.NewReader(a.exported("evaluation"))).ReadAll()
	require.NoError(t, err)
	require.Equal(t, []string{"grades.anchor", "grades.feet", "grades.hand_use"}, slices.DeleteFunc(rows[0], func(head string) bool { return !strings.HasPrefix(head, "grades") }))
	table := edited(t, a.exported("evaluation"), func(rows [][]string) [][]string {
		for _, row := range rows[1:] {
			if row[0] == id.String() {
				row[in(rows, "grades.hand_use")], row[in(rows, "grades.anchor")] = "9", "4"
			}
		}
		return rows
	})
	r, err := a.Import(t.Context(), ImportRequest{Kind: "evaluation", Data: table})
	require.NoError(t, err)
	require.Equal(t, [3]int{1, 1, 1}, [3]int{r.Changed, r.Unchanged, r.Conflicts})
	require.ElementsMatch(t, []string{"5", "9"}, a.texts(id, "grades.hand_use"))
	require.Equal(t, []string{"4"}, a.texts(id, "grades.anchor"))

	old := []byte("record,prospect,grades\n" + id.String() + `,Orrin Vail,"hand_use 7"` + "\n")
	r, err = a.Import(t.Context(), ImportRequest{Kind: "evaluation", Data: old})
	require.NoError(t, err)
	require.Equal(t, 1, r.Unchanged)
	require.Contains(t, strings.Join(r.Remarks, "\n"), "line 2, prospect: Orrin Vail, here Orrin Vale; line 2, grades: hand_use 7, here ")
}
