package importer

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"plumbline/node/record"
)

var asGames = Options{File: "games.csv", Kind: record.Game}

// The format is that of RFC 4180, section 2; the numbers are those of its rules.
// Byte order mark, semicolons and short rows are what spreadsheets add.
func TestReadTable(t *testing.T) {
	for _, c := range []struct {
		name, text string
		want       [][]string
		lines      []int
	}{
		{"1: lines end in CRLF", "a,b\r\nc,d\r\ne,f\r\n", [][]string{{"a", "b"}, {"c", "d"}, {"e", "f"}}, []int{2, 3}},
		{"2: the last line may have no end", "a,b\r\nc,d", [][]string{{"a", "b"}, {"c", "d"}}, []int{2}},
		{"4: spaces belong to the field", "a,b\r\n c , d\r\n", [][]string{{"a", "b"}, {" c ", " d"}}, []int{2}},
		{"5: fields may stand in quotes", "\"aaa\",\"bbb\"\r\nzzz,\"yyy\"\r\n", [][]string{{"aaa", "bbb"}, {"zzz", "yyy"}}, []int{2}},
		{"6: line breaks, quotes and commas in quotes", "a,b\r\n\"b\r\nbb\",\"c,c\"\r\nx,y\r\n", [][]string{{"a", "b"}, {"b\nbb", "c,c"}, {"x", "y"}}, []int{2, 4}},
		{"7: a quote in quotes is doubled", "a,b\r\n\"b\"\"bb\",c\r\n", [][]string{{"a", "b"}, {"b\"bb", "c"}}, []int{2}},
		{"a byte order mark", "\ufeffa,b\nc,d\n", [][]string{{"a", "b"}, {"c", "d"}}, []int{2}},
		{"semicolons", "a;b\n1,5;2\n", [][]string{{"a", "b"}, {"1,5", "2"}}, []int{2}},
		{"semicolons with commas in quotes", "\"a,x,y\";b\n1;2\n", [][]string{{"a,x,y", "b"}, {"1", "2"}}, []int{2}},
		{"tabs", "a\tb\nc\td\n", [][]string{{"a", "b"}, {"c", "d"}}, []int{2}},
		{"rows cut short, blank rows", "a,b\n1\n,\n\n2,3\n", [][]string{{"a", "b"}, {"1"}, {"2", "3"}}, []int{2, 5}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := readTable(asGames, strings.NewReader(c.text))
			if err != nil {
				t.Fatal(err)
			}
			cells, lines := [][]string{got.header}, []int(nil)
			for _, r := range got.rows {
				cells, lines = append(cells, r.cells), append(lines, r.line)
			}
			if !slices.EqualFunc(cells, c.want, slices.Equal) || !slices.Equal(lines, c.lines) {
				t.Errorf("got %q in lines %v, want %q in lines %v", cells, lines, c.want, c.lines)
			}
		})
	}
}

// endless gives the same bytes for ever.
type endless string

func (e endless) Read(p []byte) (int, error) {
	n := 0
	for n < len(p) {
		n += copy(p[n:], e)
	}
	return n, nil
}

func TestReadTableRefuses(t *testing.T) {
	for _, c := range []struct {
		name, says string
		r          io.Reader
	}{
		{"nothing", "empty", strings.NewReader("")},
		{"a quote that never ends", "line 3", strings.NewReader("a,b\nc,d\n\"e,f\n")},
		{"a bare quote", "doubled", strings.NewReader("a,b\nc\"c,d\n")},
		{"UTF-16", "UTF-16", strings.NewReader("\xff\xfea\x00")},
		{"Latin-1", "games.csv, line 2: not UTF-8; save as CSV in UTF-8", strings.NewReader("a,b\nM\xfcller,d\n")},
		{"a damaged workbook", "damaged", strings.NewReader("PK\x03\x04rest")},
		{"a workbook of the old kind", "save it as .xlsx", strings.NewReader("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")},
		{"too many columns", "201 columns", strings.NewReader(strings.Repeat("a,", 200) + "a\n")},
		{"a cell too large", "is a quote missing?", strings.NewReader("a,b\n\"" + strings.Repeat("x", 40_000) + "\",d\n")},
		{"too many rows", "more than 200000 rows", io.LimitReader(endless("1,2\n"), 900_000)},
		{"too large", "larger than 64 MiB", endless("1,2,3,4\n")},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := readTable(asGames, c.r)
			if !errors.Is(err, ErrTable) || !strings.Contains(err.Error(), c.says) || !strings.HasPrefix(err.Error(), "games.csv") {
				t.Errorf("got %v; want ErrTable, the file, and %q", err, c.says)
			}
		})
	}
}

// What is called a workbook and isn't one is no CSV in a wrong encoding either.
func TestRandomBytesAreNoWorkbook(t *testing.T) {
	_, err := readTable(Options{File: "film.XLSX"}, strings.NewReader("\x93\x00\xf7\xe1"))
	if !errors.Is(err, ErrTable) || !strings.Contains(err.Error(), "no workbook") || strings.Contains(err.Error(), "UTF-8") {
		t.Errorf("got %v", err)
	}
}

// Whatever the bytes are, each row is proposed, counted as failed, or the file is
// refused as a whole; and no problem names a line that isn't there.
func TestImportAnything(t *testing.T) {
	piece := rapid.SampledFrom([]string{"date", "home", "away", "week", ",", ",", ";", "\n", "\n", "\r\n", `"`, "2026-11-26", "Norte", "7", " ", "\xff", "\ufeff"})
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.SampledFrom([]string{"", "date,home,away\n"}).Draw(t, "header") +
			strings.Join(rapid.SliceOfN(piece, 0, 30).Draw(t, "pieces"), "")
		got, err := Import(strings.NewReader(text), asGames)
		if err != nil {
			if !errors.Is(err, ErrTable) {
				t.Fatalf("error of another kind: %v", err)
			}
			return
		}
		if len(got.Proposals)+got.Failed != got.Rows {
			t.Fatalf("%d rows, %d games, %d failed", got.Rows, len(got.Proposals), got.Failed)
		}
		for _, p := range got.Problems {
			if p.Line < 2 || p.Line > 1+bytes.Count([]byte(text), []byte("\n"))+1 {
				t.Fatalf("a problem in line %d: %v", p.Line, p)
			}
		}
	})
}

func BenchmarkImportReps(b *testing.B) {
	var text strings.Builder
	text.WriteString("name,school,class_year,date,home,away,number,quarter,down,distance,play,pass_set,move,result,outcome,observations\n")
	for i := range 10_000 {
		fmt.Fprintf(&text, "Abel Quill %d,Norte,2027,2026-09-12,Norte,Sur,%d,%d,%d,10,pass,vertical,bull,won,clean,late hands again %d\n",
			i/60, i%60+1, i%4+1, i%4+1, i)
	}
	for b.Loop() {
		got, err := Import(strings.NewReader(text.String()), Options{File: "reps.csv", Kind: record.Rep})
		if err != nil || got.Failed > 0 {
			b.Fatal(err, got.Problems)
		}
	}
}
