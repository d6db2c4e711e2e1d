package exporter

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"plumbline/node/workbook"
)

// What is written is read by another program as it was meant, and by us; equal
// tables make equal bytes.
func TestWorkbook(t *testing.T) {
	header := []string{"name", "forty"}
	values := [][]Value{
		{{Text: "=1+1"}, {Text: "5.10", Number: true}},
		{{Text: "+49 0"}, {Text: "6046", Number: true}},
		{{Text: "@SUM(A1)"}, {Text: "6-4", Number: true}},
		{{Text: "_x0041_\tü\n"}, {Text: ""}},
		{{Text: "017"}, {Text: "017", Number: true}},
	}
	data, err := Workbook("prospect", header, values)
	require.NoError(t, err)
	again, err := Workbook("prospect", header, values)
	require.NoError(t, err)
	require.True(t, bytes.Equal(data, again))

	got, err := workbook.Read(data, "", workbook.Limits{Rows: 10, Columns: 10, Cell: 1000})
	require.NoError(t, err)
	require.Equal(t, "prospect", got.Name)
	var texts [][]string
	for _, r := range got.Rows {
		texts = append(texts, r.Cells)
		require.Empty(t, r.Faults)
	}
	require.Equal(t, [][]string{{"name", "forty"}, {"=1+1", "5.10"}, {"+49 0", "6046"}, {"@SUM(A1)", "6-4"}, {"_x0041_\tü\n"}, {"017", "017"}}, texts)

	f, err := excelize.OpenReader(bytes.NewReader(data))
	require.NoError(t, err)
	defer f.Close()
	for i := range values {
		cell := fmt.Sprint("A", i+2)
		formula, err := f.GetCellFormula("prospect", cell)
		require.NoError(t, err)
		require.Empty(t, formula)
		value, err := f.GetCellValue("prospect", cell)
		require.NoError(t, err)
		require.Equal(t, values[i][0].Text, value)
	}
	shown, err := f.GetCellValue("prospect", "B2")
	require.NoError(t, err)
	require.Equal(t, "5.10", shown)
	kind, err := f.GetCellType("prospect", "B3")
	require.NoError(t, err)
	require.Equal(t, excelize.CellTypeUnset, kind, "a number")
	panes, err := f.GetPanes("prospect")
	require.NoError(t, err)
	require.True(t, panes.Freeze)

	_, err = Workbook("prospect", header, [][]Value{{{Text: strings.Repeat("ü", 32_768)}}})
	require.ErrorContains(t, err, "cell A2: a text of more than 32767 characters")
}
