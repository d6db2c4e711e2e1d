package node

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"plumbline/node/importer"
	"plumbline/node/record"
	"plumbline/sync/entry"
)

// A row whose texts don't fit one entry (ledger rule 6: 64 KiB) is found before anything
// is written, by a trial too, and left out alone. Invented data.
func TestARowThatIsTooLongIsRefusedAlone(t *testing.T) {
	a := found(t)
	a.load("prospect", "list_id,name,school,class_year\n17,Orrin Vale,Salt Lick,2027\n18,Pim Rask,Salt Lick,2027\n")
	long := strings.Repeat("quiet ", 5<<10)
	table := []byte("list_id,overall,summary,projection,verdict\n17,6,Patient.,,\n18,5," + long + "," + long + "," + long + "\n")
	before := a.entries()
	for _, dry := range []bool{true, false} {
		r, err := a.Import(t.Context(), ImportRequest{Kind: "evaluation", File: "spring.csv", Data: table, DryRun: dry})
		require.NoError(t, err)
		require.True(t, r.DryRun)
		require.Equal(t, before, a.entries())
		require.Len(t, r.Errors, 1)
		require.Equal(t, RowError{File: "spring.csv", Line: 3, Value: r.Errors[0].Value, Rule: r.Errors[0].Rule}, r.Errors[0])
		require.Less(t, len(r.Errors[0].Value), 100, "the row's first words")
		require.Equal(t, 3, r.WrongRows[0].Line)
		for _, said := range []string{"64 KiB", "summary 29 KiB", "projection 29 KiB", "verdict 29 KiB", "shorten them"} {
			require.Contains(t, r.Errors[0].Rule, said)
		}
	}
	r, err := a.Import(t.Context(), ImportRequest{Kind: "evaluation", Data: table, Partial: true})
	require.NoError(t, err)
	require.Equal(t, [2]int{1, 1}, [2]int{r.Added, r.Skipped})
	r, err = a.Import(t.Context(), ImportRequest{Kind: "evaluation", Data: table, Headers: map[string]string{"verdict": "-"}})
	require.NoError(t, err)
	require.Equal(t, [2]int{1, 1}, [2]int{r.Added, r.Unchanged}, "as the refusal advises: %+v", r.Errors)
	table = []byte("list_id,verdict\n18," + long + "\n")
	r, err = a.Import(t.Context(), ImportRequest{Kind: "evaluation", Data: table})
	require.NoError(t, err)
	require.Equal(t, 1, r.Changed)
}

// Of very many wrong rows the first are listed and all are counted, whoever found what
// is wrong with them. Invented data.
func TestManyWrongRowsAreCounted(t *testing.T) {
	const many = 3 * importer.MaxProblems
	for name, row := range map[string]func(i int) string{
		"found in the table": func(int) string { return ",Cal Ode,Salt Lick,27\n" },
		"found here": func(i int) string { // ids of games
			return entry.NewRecordID(entry.Shared, record.Game, entry.PersonID{}, [16]byte{byte(i >> 8), byte(i)}).String() + ",Cal Ode,Salt Lick,2027\n"
		},
	} {
		t.Run(name, func(t *testing.T) {
			a := found(t)
			var rows strings.Builder
			for i := range many {
				rows.WriteString(row(i))
			}
			table := []byte("record,name,school,class_year\n" + rows.String() + ",Orrin Vale,Salt Lick,2027\n")
			for _, partial := range []bool{false, true} {
				r := a.imports(ImportRequest{Data: table, Partial: partial})
				require.Len(t, r.Errors, importer.MaxProblems)
				require.Len(t, r.WrongRows, importer.MaxProblems)
				require.Contains(t, strings.Join(r.Remarks, "\n"), "300 rows are wrong, and the first 100 of them are listed")
				require.Equal(t, map[bool][2]int{false: {0, many + 1}, true: {1, many}}[partial], [2]int{r.Added, r.Skipped})
				last := r.WrongRows[importer.MaxProblems-1]
				require.Equal(t, []any{importer.MaxProblems + 1, strings.TrimSpace(row(importer.MaxProblems - 1))}, []any{last.Line, strings.Join(last.Cells, ",")})
			}
		})
	}
}

// A column whose name goes on behind that of one without keys is no column that an
// export has: it is named with its file, like any other that goes nowhere.
func TestAColumnWithAKeyTooManyIsNamed(t *testing.T) {
	a := found(t)
	a.load("prospect", "name,school,class_year\nOrrin Vale,Salt Lick,2027\n")
	id := a.only("Orrin Vale").String()
	for _, head := range []string{"record.x", "looks.x", "arm.x"} {
		for _, table := range []string{"record,name," + head + "\n" + id + ",Orrin Vale,9\n", "name,school,class_year," + head + "\nOrrin Vale,Salt Lick,2027,9\n"} {
			_, err := a.Import(t.Context(), ImportRequest{Kind: "prospect", File: "class.csv", Data: []byte(table)})
			require.ErrorIs(t, err, ErrInvalid)
			require.ErrorContains(t, err, `class.csv: can't import this table: column "`+head+`" is not known here`)
		}
	}
	r := a.imports(ImportRequest{Data: []byte("record,grades.hand_use,looks\n" + id + ",,\n")})
	require.Equal(t, 1, r.Unchanged)
}
