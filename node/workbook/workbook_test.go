package workbook

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
)

var wide = Limits{Rows: 1000, Columns: 200, Cell: 32 << 10}

// made is a workbook as another program makes it.
func made(t testing.TB, fill func(*excelize.File)) []byte {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	fill(f)
	var out bytes.Buffer
	require.NoError(t, f.Write(&out))
	return out.Bytes()
}

// zipped is a workbook by hand: one sheet, with other parts if given.
func zipped(t testing.TB, sheet io.Reader, parts map[string]string) []byte {
	t.Helper()
	all := map[string]io.Reader{
		"_rels/.rels":                strings.NewReader(`<Relationships><Relationship Id="r1" Type="x/officeDocument" Target="xl/workbook.xml"/></Relationships>`),
		"xl/workbook.xml":            strings.NewReader(`<workbook xmlns:r="r"><sheets><sheet name="One" r:id="a"/></sheets></workbook>`),
		"xl/_rels/workbook.xml.rels": strings.NewReader(`<Relationships><Relationship Id="a" Type="x/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="b" Type="x/sharedStrings" Target="/xl/sharedStrings.xml"/></Relationships>`),
		"xl/worksheets/sheet1.xml":   sheet,
	}
	for name, text := range parts {
		all[name] = strings.NewReader(text)
	}
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for name, from := range all {
		w, err := z.Create(name)
		require.NoError(t, err)
		_, err = io.Copy(w, from)
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	return out.Bytes()
}

func rows(inner string) io.Reader {
	return strings.NewReader("<worksheet><sheetData>" + inner + "</sheetData></worksheet>")
}

// Serial numbers of days are those of ECMA-376 part 1, 18.17.4.1: in the system of
// 1900, 1 is 1 January 1900 and 39,448 is 1 January 2008, which in that of 1904 is
// 37,986; in that of 1904, 0 is 1 January 1904. The rest is made with excelize.
func TestDaysInBothSystems(t *testing.T) {
	for _, c := range []struct {
		serial float64
		system bool // of 1904
		want   string
	}{
		{1, false, "1900-01-01"}, {59, false, "1900-02-28"}, {61, false, "1900-03-01"},
		{39448, false, "2008-01-01"}, {2958465, false, "9999-12-31"},
		{0, true, "1904-01-01"}, {37986, true, "2008-01-01"},
		{39448.5, false, "2008-01-01 12:00:00"},
	} {
		data := made(t, func(f *excelize.File) {
			require.NoError(t, f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: &c.system}))
			style, err := f.NewStyle(&excelize.Style{NumFmt: 14})
			require.NoError(t, err)
			require.NoError(t, f.SetCellFloat("Sheet1", "A1", c.serial, -1, 64))
			require.NoError(t, f.SetCellStyle("Sheet1", "A1", "A1", style))
		})
		got, err := Read(data, "", wide)
		require.NoError(t, err)
		require.Equal(t, [][]string{{c.want}}, texts(got), "%v, 1904: %v", c.serial, c.system)
		require.Empty(t, got.Rows[0].Faults)
	}
}

func texts(s *Sheet) (all [][]string) {
	for _, r := range s.Rows {
		all = append(all, r.Cells)
	}
	return all
}

// A day that never was, and one beyond the calendar, are no days.
func TestNoDays(t *testing.T) {
	for _, serial := range []float64{-1, 0, 60, 2958466, 1e300} {
		text, ok := showDay(serial, from1900)
		require.False(t, ok, "%v: %s", serial, text)
	}
	_, ok := showDay(2957004, from1904) // 9999-12-31 is 2,957,003
	require.False(t, ok)
}

// Codes are those that spreadsheets commonly offer.
func TestNumberFormats(t *testing.T) {
	for _, c := range []struct{ code, number, want string }{
		{"General", "6046", "6046"}, {"General", "5.1200000000000001", "5.12"}, {"General", "1E+3", "1000"},
		{"General", "-0.5", "-0.5"}, {"0", "305", "305"}, {"0.00", "5.1", "5.10"}, {"#,##0.00", "5", "5.00"},
		{"00000", "17", "00017"}, {"[Red]0.0;-0.0", "5", "5.0"}, {`0" lb"`, "305", "305"}, {"@", "17", "17"},
		{"yyyy\\-mm\\-dd;@", "46082", "2026-03-01"}, {"[$-409]d\\-mmm\\-yy;@", "46082", "2026-03-01"},
		{`"day" d.m.yyyy`, "46082", "2026-03-01"}, {"h:mm", "0.5215277777777778", "12:31"},
		{"[h]:mm", "1.5", "36:00"}, {"mm:ss", "0.0086921296296296295", "12:31"}, {"h:mm:ss", "0.5", "12:00"},
		{"h:mm AM/PM", "0.75", "18:00"}, {`"yd" 0`, "12", "12"},
	} {
		got, ok := formatOf(c.code).show(c.number, from1900)
		require.True(t, ok)
		require.Equal(t, c.want, got, "%s of %s", c.code, c.number)
	}
}

func TestCellsOfEveryKind(t *testing.T) {
	data := made(t, func(f *excelize.File) {
		_, err := f.NewSheet("Linemen")
		require.NoError(t, err)
		for cell, value := range map[string]any{
			"A2": "name", "C2": "height", "A4": "Orrin Vale", "B4": true, "C4": 6046, "D4": " =1+1", "E4": "a_xb", "F4": "<&>\"\nü",
		} {
			require.NoError(t, f.SetCellValue("Linemen", cell, value))
		}
		require.NoError(t, f.SetCellFormula("Linemen", "A5", "6000+46"))
		require.NoError(t, f.SetCellRichText("Linemen", "B5", []excelize.RichTextRun{{Text: "two "}, {Text: "runs"}}))
	})
	got, err := Read(data, "linemen", wide)
	require.NoError(t, err)
	require.Equal(t, "Linemen", got.Name)
	require.Equal(t, [][]string{
		{"name", "", "height"},
		{"Orrin Vale", "true", "6046", " =1+1", "a_xb", "<&>\"\nü"},
		{"=6000+46", "two runs"},
	}, texts(got))
	require.Equal(t, []int{2, 4, 5}, []int{got.Rows[0].Number, got.Rows[1].Number, got.Rows[2].Number})
	require.Contains(t, got.Rows[2].Faults[0], "save the sheet's values")
	require.Empty(t, got.Rows[1].Faults)

	first, err := Read(data, "", wide)
	require.NoError(t, err)
	require.Equal(t, "Sheet1", first.Name)
	require.Empty(t, first.Rows)
	_, err = Read(data, "Backs", wide)
	require.ErrorContains(t, err, "its sheets: Sheet1, Linemen")
}

// A saved result, a shared formula's follower and an error count for nothing.
func TestFormulasAreNeverTrusted(t *testing.T) {
	data := zipped(t, rows(`<row r="1"><c r="A1"><f>1+1</f><v>2</v></c><c r="B1" t="str"><f t="shared" si="0"/><v>x</v></c>`+
		`<c r="C1" t="e"><v>#N/A</v></c><c r="D1" t="s"><v>7</v></c><c r="E1" t="d"><v>2026-03-01T00:00:00Z</v></c><c r="F1" t="inlineStr"><is><r><t>a</t></r><rPh><t>spoken</t></rPh><t>b</t></is></c></row>`), nil)
	got, err := Read(data, "", wide)
	require.NoError(t, err)
	require.Equal(t, [][]string{{"=1+1", "=", "#N/A", "7", "2026-03-01", "ab"}}, texts(got))
	require.Len(t, got.Rows[0].Faults, 4)
}

// repeated reads the same text n times.
func repeated(before, text string, n int, after string) io.Reader {
	all := []io.Reader{strings.NewReader(before)}
	block := strings.Repeat(text, 1000)
	for range n / 1000 {
		all = append(all, strings.NewReader(block))
	}
	return io.MultiReader(append(all, strings.NewReader(after))...)
}

func TestReadRefuses(t *testing.T) {
	const begin, end = "<worksheet><sheetData>", "</sheetData></worksheet>"
	bomb := zipped(t, repeated(begin, `<row><c r="XFD1"><f/></c></row>`, 20_000, end), nil)
	require.Less(t, len(bomb), 100_000, "20,000 rows up to the last column stand for 328 million cells")
	for _, c := range []struct {
		name, says string
		data       []byte
	}{
		{"328 million cells", "cell XFD1: more than 200 columns", bomb},
		{"more than may be unzipped", "unzipped it is larger than 64 MiB", zipped(t, repeated(begin, strings.Repeat(" ", 1000), 70_000, end), nil)},
		{"too many rows", "more than 999 rows", zipped(t, repeated(begin, `<row><c><v>1</v></c></row>`, 2000, end), nil)},
		{"too many wide rows", "larger than 8388608 cells", zipped(t, repeated(begin, `<row><c r="GR1" t="b"/></row>`, 50_000, end), nil)},
		{"too deep", "is no table", zipped(t, repeated(begin, `<a>`, 1000, ""), nil)},
		{"a long text, often", "or 64 MiB", zipped(t, repeated(begin, `<row><c t="s"><v>0</v></c></row>`, 3000, end),
			map[string]string{"xl/sharedStrings.xml": "<sst><si><t>" + strings.Repeat("x", 32<<10) + "</t></si></sst>"})},
		{"a cell too large", "cell B1: a cell of more than 32 KiB", zipped(t, rows(`<row><c/><c t="str"><v>`+strings.Repeat("x", 40_000)+`</v></c></row>`), nil)},
		{"rows out of order", `row "1" stands behind row 2`, zipped(t, rows(`<row r="2"/><row r="1"/>`), nil)},
		{"cells out of order", `cell "A1" is out of order`, zipped(t, rows(`<row><c r="B1"/><c r="A1"/></row>`), nil)},
		{"a row beyond the last", "stands behind", zipped(t, rows(`<row r="1048577"/>`), nil)},
		{"cut off", "damaged", bomb[:len(bomb)/2]},
		{"broken XML", "damaged", zipped(t, strings.NewReader("<worksheet><sheetData>"), nil)},
		{"an entity of its own", "damaged", zipped(t, strings.NewReader(`<!DOCTYPE a [<!ENTITY b "x">]><worksheet><sheetData><row><c><v>&b;</v></c></row></sheetData></worksheet>`), nil)},
		{"another kind of document", "missing", zipped(t, rows(""), map[string]string{"_rels/.rels": "<Relationships/>", "xl/_rels/workbook.xml.rels": `<Relationships><Relationship Id="a" Type="x/worksheet" Target="elsewhere.xml"/></Relationships>`})},
		{"no sheet", "no sheet", zipped(t, rows(""), map[string]string{"xl/workbook.xml": "<workbook/>"})},
	} {
		t.Run(c.name, func(t *testing.T) {
			limits := wide
			if strings.HasPrefix(c.name, "too many wide") || strings.HasPrefix(c.name, "a long text") {
				limits.Rows = 100_000
			}
			_, err := Read(c.data, "", limits)
			if !errors.Is(err, ErrWorkbook) || !strings.Contains(err.Error(), c.says) {
				t.Errorf("got %v; want ErrWorkbook and %q", err, c.says)
			}
		})
	}
}

// Whatever the bytes are: rows ascend, nothing is beyond the limits, and an error
// is of one kind.
func FuzzRead(f *testing.F) {
	f.Add(zipped(f, rows(`<row r="2"><c r="B2" s="1"><v>46082</v></c><c t="s"><v>0</v></c></row>`), map[string]string{
		"xl/sharedStrings.xml": "<sst><si><t>_x0041_</t></si></sst>",
	}))
	f.Add(made(f, func(b *excelize.File) { _ = b.SetCellValue("Sheet1", "C7", "=1+1") }))
	f.Add([]byte("PK\x03\x04"))
	f.Fuzz(func(t *testing.T, data []byte) { check(t, data) })
}

// FuzzSheet keeps the archive whole and changes what lies in it.
func FuzzSheet(f *testing.F) {
	f.Add(`<row r="1"><c r="A1"><f>1+1</f><v>2</v></c></row>`, "yyyy-mm-dd", "a")
	f.Add(`<row><c s="0"><v>46082.5</v></c><c r="GR1" t="inlineStr"><is><t>x</t></is></c></row>`, `[h]:mm"x"\-`, "_x0009_")
	f.Add(`<row><c s="0" t="s"><v>0</v></c><c s="9" t="d"><v>T</v></c><c t="e"/></row><row r="9"/>`, "[Red", "")
	f.Fuzz(func(t *testing.T, inner, code, text string) {
		var escaped strings.Builder
		for _, r := range code {
			fmt.Fprintf(&escaped, "&#%d;", r)
		}
		check(t, zipped(t, rows(inner), map[string]string{
			"xl/_rels/workbook.xml.rels": `<Relationships><Relationship Id="a" Type="x/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="b" Type="x/sharedStrings" Target="sharedStrings.xml"/><Relationship Id="c" Type="x/styles" Target="styles.xml"/></Relationships>`,
			"xl/sharedStrings.xml":       "<sst><si><t>" + text + "</t></si></sst>",
			"xl/styles.xml":              `<styleSheet><numFmts><numFmt numFmtId="170" formatCode="` + escaped.String() + `"/></numFmts><cellXfs><xf numFmtId="170"/></cellXfs></styleSheet>`,
		}))
	})
}

func check(t *testing.T, data []byte) {
	got, err := Read(data, "", Limits{Rows: 10, Columns: 5, Cell: 100})
	if err != nil {
		if !errors.Is(err, ErrWorkbook) {
			t.Fatalf("error of another kind: %v", err)
		}
		return
	}
	last := 0
	for _, r := range got.Rows {
		if r.Number <= last || len(r.Cells) == 0 || len(r.Cells) > 5 {
			t.Fatalf("row %d behind %d with %d cells", r.Number, last, len(r.Cells))
		}
		last = r.Number
		for _, cell := range r.Cells {
			if len(cell) > 100 {
				t.Fatalf("a cell of %d bytes", len(cell))
			}
		}
	}
	if len(got.Rows) > 10 {
		t.Fatalf("%d rows", len(got.Rows))
	}
}
