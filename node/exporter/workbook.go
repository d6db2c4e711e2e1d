package exporter

import (
	"bytes"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf16"

	"github.com/xuri/excelize/v2"

	"plumbline/node/workbook"
)

// The bounds of a sheet. The library would cut a longer text without a word.
const (
	maxRows  = 1 << 20
	maxUnits = 32_767 // of UTF-16, in a cell
)

// Value is a cell to write: a text, never taken for anything else, or a number
// as its text has it.
type Value struct {
	Text   string
	Number bool
}

// Workbook makes a workbook of one sheet, with the header bold and always in sight.
// Equal tables make equal bytes.
func Workbook(sheet string, header []string, rows [][]Value) ([]byte, error) {
	if len(rows) >= maxRows {
		return nil, fmt.Errorf("a sheet holds %d rows, and these are %d: ask for fewer, or for csv", maxRows-1, len(rows))
	}
	f := excelize.NewFile()
	defer f.Close()
	if err := f.SetSheetName(f.GetSheetName(0), sheet); err != nil {
		return nil, fmt.Errorf("name the sheet: %w", err)
	}
	w := &sheetWriter{file: f, decimals: map[int]int{}}
	if err := w.write(sheet, header, rows); err != nil {
		return nil, err
	}
	var out bytes.Buffer
	if err := f.Write(&out); err != nil {
		return nil, fmt.Errorf("write the workbook: %w", err)
	}
	return out.Bytes(), nil
}

type sheetWriter struct {
	file *excelize.File
	// decimals are the styles of numbers with so many decimals.
	decimals map[int]int
}

func (w *sheetWriter) write(sheet string, header []string, rows [][]Value) error {
	bold, err := w.file.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}})
	if err != nil {
		return fmt.Errorf("make the header bold: %w", err)
	}
	s, err := w.file.NewStreamWriter(sheet)
	if err != nil {
		return fmt.Errorf("write the sheet: %w", err)
	}
	if err := s.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
		return fmt.Errorf("freeze the header: %w", err)
	}
	heads := make([]any, len(header))
	for i, name := range header {
		heads[i] = excelize.Cell{StyleID: bold, Value: name}
	}
	if err := s.SetRow("A1", heads); err != nil {
		return fmt.Errorf("write the header: %w", err)
	}
	for i, row := range rows {
		cells := make([]any, len(row))
		for column, v := range row {
			if cells[column], err = w.cell(v); err != nil {
				return fmt.Errorf("cell %s: %w", workbook.CellName(column, i+2), err)
			}
		}
		if err := s.SetRow(workbook.CellName(0, i+2), cells); err != nil {
			return fmt.Errorf("row %d: %w", i+2, err)
		}
	}
	if err := s.Flush(); err != nil {
		return fmt.Errorf("write the sheet: %w", err)
	}
	return nil
}

// exact are the numbers that a sheet shows as they are typed: it holds 15 digits.
var exact = regexp.MustCompile(`^-?(0|[1-9][0-9]{0,9})(\.[0-9]{1,5})?$`)

func (w *sheetWriter) cell(v Value) (any, error) {
	switch {
	case v.Text == "":
		return nil, nil
	case v.Number && exact.MatchString(v.Text):
		n, err := strconv.ParseFloat(v.Text, 64)
		if err != nil {
			return nil, fmt.Errorf("read a number: %w", err)
		}
		style, err := w.style(v.Text)
		return excelize.Cell{StyleID: style, Value: n}, err
	case len(utf16.Encode([]rune(v.Text))) > maxUnits:
		return nil, fmt.Errorf("a text of more than %d characters, which no workbook holds: leave the column out, or write csv", maxUnits)
	}
	return v.Text, nil
}

// style shows the noughts at a number's end: 5.10 isn't 5.1 to who reads it.
func (w *sheetWriter) style(text string) (int, error) {
	_, decimals, found := strings.Cut(text, ".")
	if !found {
		return 0, nil
	}
	if id, ok := w.decimals[len(decimals)]; ok {
		return id, nil
	}
	code := "0." + strings.Repeat("0", len(decimals))
	id, err := w.file.NewStyle(&excelize.Style{CustomNumFmt: &code})
	if err != nil {
		return 0, fmt.Errorf("make a number format: %w", err)
	}
	w.decimals[len(decimals)] = id
	return id, nil
}
