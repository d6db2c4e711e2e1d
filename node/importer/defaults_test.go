package importer

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"plumbline/node/record"
)

// Invented data.
func TestDefaultsFillWhatARowLeavesEmpty(t *testing.T) {
	table := "name,school,class_year,height,source\nOrrin Vale,Harbor Point,2027,6046,\nPim Rask,,2027,6031,verified\n"
	got, err := Import(strings.NewReader(table), Options{
		File: "list.csv", Kind: record.Prospect,
		Defaults: map[string]string{"source": "listed", "school": "Salt Lick", "position": "tackle"},
	})
	require.NoError(t, err)
	require.Empty(t, got.Problems)
	var seen []string
	for _, p := range got.Proposals {
		for _, f := range p.Fields {
			if f.IsRef() {
				continue
			}
			text, err := f.Register.Text(f.Value)
			require.NoError(t, err)
			seen = append(seen, f.Register.Path()+"="+text)
		}
	}
	require.Contains(t, seen, "school=Harbor Point")
	require.Contains(t, seen, "school=Salt Lick")
	require.Contains(t, seen, "position=tackle")
	require.Contains(t, seen, "reading=6046, listed")
	require.Contains(t, seen, "reading=6031, verified")
}

// A cell without a column is no value for the column that a default adds.
func TestAStrayCellIsNoDefault(t *testing.T) {
	got, err := Import(strings.NewReader("list_id,height\n17,6046,verified\n"), Options{
		File: "list.csv", Kind: record.Prospect, Defaults: map[string]string{"source": "listed"},
	})
	require.NoError(t, err)
	require.Empty(t, got.Proposals)
	require.Len(t, got.Problems, 1)
	require.Contains(t, got.Problems[0].Rule, "is a comma not quoted?")
}

// What rows are to get that is no field is no column of the table: nobody wrote one.
// A header that is mapped may be named as the table has it.
func TestADefaultIsAFieldOrAColumn(t *testing.T) {
	defaults := map[string]string{"positin": "guard", "Who": "Orrin Vale", "grades.hand_use": "5"}
	o := Options{File: "list.csv", Kind: record.Prospect, Map: map[string]string{"Who": "name"}, Defaults: defaults}
	table := "Who,school,class_year\n,Salt Lick,2027\n"
	_, err := Import(strings.NewReader(table), o)
	var m *Misplaced
	require.ErrorAs(t, err, &m)
	require.ErrorIs(t, err, ErrTable)
	require.Equal(t, []Misfit{{Name: "grades.hand_use"}, {"positin", []string{"position"}}}, m.Unset)
	require.Contains(t, m.Fields, "position")
	require.Contains(t, err.Error(), `"grades.hand_use", which is no field of this table`)
	delete(defaults, "positin")
	delete(defaults, "grades.hand_use")
	got, err := Import(strings.NewReader(table), o)
	require.NoError(t, err)
	name, ok := text(got.Proposals[0].Fields, "name")
	require.True(t, ok)
	require.Equal(t, "Orrin Vale", name)
}
