package importer

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"plumbline/node/record"
)

// asSheet puts a CSV table's cells onto a sheet, as texts.
func asSheet(t *testing.T, table string) []byte {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(table)).ReadAll()
	require.NoError(t, err)
	return book(t, func(f *excelize.File) {
		for i, row := range rows {
			for at, text := range row {
				cell, err := excelize.CoordinatesToCellName(at+1, i+1)
				require.NoError(t, err)
				require.NoError(t, f.SetCellStr("Sheet1", cell, text))
			}
		}
	})
}

func book(t *testing.T, fill func(*excelize.File)) []byte {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	fill(f)
	var out bytes.Buffer
	require.NoError(t, f.Write(&out))
	return out.Bytes()
}

// Invented data. What a table says, and what is wrong with it, doesn't depend on
// the file that it comes in; a sheet's problems name the cell besides.
func TestASheetSaysWhatCSVSays(t *testing.T) {
	const table = "name,school,class_year,position,height,remark,arm,source,date\n" +
		"Orrin Vale,Harbor Point,2027,LT,6046,=1+1,334,verified,2026-03-01\n" +
		"Pim Rask,Pine Bluffs,27,goalie,64,,334,guess,March\n" +
		"Dov Lunt,,2027,QB,6046,,,listed,\n" +
		"Orrin Vale,Harbor Point,2027,LT,6046,,,verified,\n"
	o := Options{File: "t", Kind: record.Prospect, Map: map[string]string{"remark": Ignored}}
	plain, err := Import(strings.NewReader(table), o)
	require.NoError(t, err)
	sheet, err := Import(bytes.NewReader(asSheet(t, table)), o)
	require.NoError(t, err)
	require.Equal(t, plain.Proposals, sheet.Proposals)
	require.Equal(t, "Sheet1", sheet.Sheet)
	require.Equal(t, plain.Failed, sheet.Failed)
	var cells []string
	for i, p := range sheet.Problems {
		cells = append(cells, p.Cell)
		require.Equal(t, "Sheet1", p.Sheet)
		p.Sheet, p.Cell = "", ""
		require.Equal(t, plain.Problems[i], p)
	}
	require.Equal(t, []string{"C3", "D3", "E3", "I3", "H3", "", ""}, cells)
	require.Contains(t, told(sheet.Problems[0]), `t, sheet Sheet1, cell C3, column "class_year": "27"`)
	require.Contains(t, told(sheet.Problems[5]), `t, sheet Sheet1, row 4: which prospect?`)
}

// Numbers, days and times are typed into a sheet as such.
func TestASheetOfNumbers(t *testing.T) {
	data := book(t, func(f *excelize.File) {
		day, err := f.NewStyle(&excelize.Style{NumFmt: 14})
		require.NoError(t, err)
		two, err := f.NewStyle(&excelize.Style{NumFmt: 2})
		require.NoError(t, err)
		for cell, value := range map[string]any{
			"A3": "list_id", "B3": "height", "C3": "forty", "D3": "source", "E3": "date",
			"A5": 17, "B5": 6046, "C5": 5.1, "D5": "verified", "E5": 46082,
			"A6": 18, "B6": 6031, "D6": "verified",
		} {
			require.NoError(t, f.SetCellValue("Sheet1", cell, value))
		}
		require.NoError(t, f.SetCellStyle("Sheet1", "C5", "C5", two))
		require.NoError(t, f.SetCellStyle("Sheet1", "E5", "E5", day))
		require.NoError(t, f.SetCellFormula("Sheet1", "E6", "TODAY()"))
	})
	got, err := Import(bytes.NewReader(data), Options{File: "t.xlsx", Kind: record.Prospect})
	require.NoError(t, err)
	require.Equal(t, `5 prospect: list_id=17
5 measurement: prospect=#0 what=height reading=6046, verified, 2026-03-01
5 measurement: prospect=#0 what=forty reading=5.10, verified, 2026-03-01
t.xlsx, sheet Sheet1, cell E6, column "date": "=TODAY()": a formula, and what it came to isn't trusted; save the sheet's values (copy, then paste values only)
`, show(t, got))
}

func TestASheetIsRefusedAsAWhole(t *testing.T) {
	data := book(t, func(f *excelize.File) {
		require.NoError(t, f.SetCellFormula("Sheet1", "B1", `"na"&"me"`))
		require.NoError(t, f.SetCellValue("Sheet1", "A1", "list_id"))
		_, err := f.NewSheet("Wide")
		require.NoError(t, err)
		require.NoError(t, f.SetCellValue("Wide", "A1", "list_id"))
		require.NoError(t, f.SetCellValue("Wide", "A2", "17"))
		require.NoError(t, f.SetCellValue("Wide", "B2", "x"))
		_, err = f.NewSheet("Empty")
		require.NoError(t, err)
	})
	for sheet, says := range map[string]string{
		"":      "t.xlsx: can't import this table: sheet Sheet1, cell B1: a formula",
		"Empty": "sheet Empty is empty",
		"Other": `no sheet "Other"; its sheets: Sheet1, Wide, Empty`,
	} {
		_, err := Import(bytes.NewReader(data), Options{File: "t.xlsx", Kind: record.Prospect, Sheet: sheet})
		require.ErrorIs(t, err, ErrTable)
		require.ErrorContains(t, err, says)
	}
	got, err := Import(bytes.NewReader(data), Options{File: "t.xlsx", Kind: record.Prospect, Sheet: "Wide"})
	require.NoError(t, err)
	require.Contains(t, told(got.Problems[0]), "sheet Wide, row 2: 2 cells, and the header names 1 columns; name the columns in the header")
	_, err = Import(strings.NewReader("list_id\n17\n"), Options{File: "t.csv", Kind: record.Prospect, Sheet: "Wide"})
	require.ErrorContains(t, err, `this is CSV, which has no sheet "Wide"`)
}
