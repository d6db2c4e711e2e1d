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
