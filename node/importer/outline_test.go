package importer

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"plumbline/node/record"
)

// twoSheets is a workbook as another program makes it: a title page without a
// table, and invented prospects.
func twoSheets(t *testing.T) []byte {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	_, err := f.NewSheet("Class")
	require.NoError(t, err)
	for cell, value := range map[string]any{
		"A1": "Called", "B1": "School", "C1": "HT", "D1": "Remarks",
		"A2": "Orrin Vale", "B2": "Salt Lick", "C2": 6046,
		"A4": "Tam Rusk", "B4": "Low Ridge", "C4": 6049, "D4": strings.Repeat("long ", 30),
	} {
		require.NoError(t, f.SetCellValue("Class", cell, value))
	}
	var out bytes.Buffer
	require.NoError(t, f.Write(&out))
	return out.Bytes()
}

func TestOutlineOfAWorkbook(t *testing.T) {
	data := twoSheets(t)
	first, err := Outlined(bytes.NewReader(data), Options{Kind: record.Prospect})
	require.NoError(t, err, "an empty sheet is no reason to hide the others")
	require.Equal(t, []string{"Sheet1", "Class"}, first.Sheets)
	require.Equal(t, "Sheet1", first.Sheet)
	require.Empty(t, first.Columns)

	class, err := Outlined(bytes.NewReader(data), Options{Kind: record.Prospect, Sheet: "Class"})
	require.NoError(t, err)
	require.Equal(t, 2, class.Rows)
	require.Equal(t, []OutlineColumn{
		{"Called", "", []string{"Orrin Vale", "Tam Rusk"}},
		{"School", "school", []string{"Salt Lick", "Low Ridge"}},
		{"HT", "height", []string{"6046", "6049"}},
		{"Remarks", "", []string{strings.Repeat("long ", 12)}},
	}, class.Columns)
	require.Contains(t, class.Fields, "forty")
	require.NotContains(t, class.Fields, "overall")

	_, err = Outlined(bytes.NewReader(data), Options{Kind: record.Prospect, Sheet: "Nowhere"})
	require.ErrorContains(t, err, "Sheet1, Class")
	_, err = Outlined(bytes.NewReader(data[:200]), Options{Kind: record.Prospect})
	require.ErrorContains(t, err, "damaged")
}

// A row that can't be read is given back as it stands, by its number on the sheet.
func TestWrongRowsAsTheyStand(t *testing.T) {
	got, err := Import(bytes.NewReader(twoSheets(t)), Options{
		Kind: record.Prospect, Sheet: "Class", Map: map[string]string{"Called": "name", "Remarks": "-"},
		Defaults: map[string]string{"class_year": "2027", "source": "listed"},
	})
	require.NoError(t, err)
	require.Equal(t, "C4", got.Problems[0].Cell)
	cells, ok := got.Line(got.Problems[0].Line)
	require.True(t, ok)
	require.Equal(t, []string{"Tam Rusk", "Low Ridge", "6049"}, cells[:3])
	_, ok = got.Line(3)
	require.False(t, ok, "that row is empty")
}
