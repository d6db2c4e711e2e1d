package importer

import (
	"bytes"
	"path/filepath"
	"strings"
	"unicode/utf8"
)

// foreign are the first bytes of what people take for a table by its name, or are sent
// in its place. Each is the format's own mark, from its standard.
var foreign = []struct{ mark, what string }{
	{"%PDF-", "a PDF"},
	{"\x89PNG\r\n", "a picture (PNG)"},
	{"\xff\xd8\xff", "a picture (JPEG)"},
	{"GIF8", "a picture (GIF)"},
	{"\x1f\x8b", "a packed file (gzip)"},
	{"7z\xbc\xaf\x27\x1c", "a packed file (7z)"},
	{"Rar!\x1a\x07", "a packed file (RAR)"},
	{"SQLite format 3\x00", "a database"},
	{"{\\rtf", "a text document (RTF)"},
	{"<!doctype html", "a web page"},
	{"<html", "a web page"},
}

// refuseForeign refuses a file that is of another kind, whatever it is called.
func (o Options) refuseForeign(data []byte) error {
	start := bytes.TrimLeft(data[:min(len(data), 512)], "\ufeff \t\r\n")
	for _, f := range foreign {
		if n := len(f.mark); len(start) >= n && strings.EqualFold(string(start[:n]), f.mark) {
			return o.refuse("this is %s and no table, whatever it is called; where it comes from, save the list as CSV in UTF-8 or as .xlsx, or type it into a table", f.what)
		}
	}
	// No text has a zero byte but UTF-16.
	isText := bytes.IndexByte(start, 0) < 0
	switch {
	case strings.EqualFold(filepath.Ext(o.File), ".xlsx") && !(isText && utf8.Valid(data)):
		return o.refuse("this is no workbook, though it is called one, or it is damaged; save it anew as .xlsx or as CSV")
	case !isText:
		return o.refuse("this is no text, so no CSV, whatever it is called; if it is a list in UTF-16, save it as CSV in UTF-8 or as .xlsx")
	}
	return nil
}
