package workbook

import (
	"encoding/xml"
	"slices"
	"strings"
)

const (
	maxStrings = 4 << 20
	// The standard's own programs take some 65,000.
	maxFormats = 1 << 16
)

// book is what holds for all sheets of a workbook.
type book struct {
	sheets  []sheetRef
	from    epoch
	strings []string
	// formats are the number formats of the cells' styles.
	formats []format
}

type sheetRef struct{ name, part string }

func openBook(a *archive) (*book, error) {
	main := "xl/workbook.xml"
	top, err := a.relations("")
	if err != nil {
		return nil, err
	}
	for _, r := range top {
		if r.kind == "officeDocument" {
			main = r.target
		}
	}
	parts, err := a.relations(main)
	if err != nil {
		return nil, err
	}
	b := &book{from: from1900}
	if err := a.each(main, func(token xml.Token) error { return b.take(token, parts) }); err != nil {
		return nil, err
	}
	if len(b.sheets) == 0 {
		return nil, refuse("it has no sheet")
	}
	for _, r := range parts {
		switch {
		case r.kind == "sharedStrings" && a.has(r.target):
			err = b.readStrings(a, r.target)
		case r.kind == "styles" && a.has(r.target):
			err = b.readFormats(a, r.target)
		}
		if err != nil {
			return nil, err
		}
	}
	return b, nil
}

func (b *book) take(token xml.Token, parts map[string]relation) error {
	e, ok := token.(xml.StartElement)
	if !ok {
		return nil
	}
	switch e.Name.Local {
	case "workbookPr":
		if truth(attr(e, "date1904")) {
			b.from = from1904
		}
	case "sheet":
		// A chart has a sheet of its own, which is no table.
		if r := parts[attr(e, "id")]; r.kind == "worksheet" {
			b.sheets = append(b.sheets, sheetRef{attr(e, "name"), r.target})
		}
	}
	return nil
}

func truth(text string) bool { return text == "1" || strings.EqualFold(text, "true") }

// find returns the sheet of a name, or the first one.
func (b *book) find(name string) (sheetRef, error) {
	if name == "" {
		return b.sheets[0], nil
	}
	at := slices.IndexFunc(b.sheets, func(s sheetRef) bool { return strings.EqualFold(s.name, name) })
	if at < 0 {
		names := b.names()
		return sheetRef{}, refuse("it has no sheet %q; its sheets: %s", name, strings.Join(names[:min(len(names), 20)], ", "))
	}
	return b.sheets[at], nil
}

func (b *book) names() []string {
	names := make([]string, 0, len(b.sheets))
	for _, s := range b.sheets {
		names = append(names, s.name)
	}
	return names
}

// readStrings reads the texts that cells share.
func (b *book) readStrings(a *archive, part string) error {
	var now textOf
	return a.each(part, func(token xml.Token) error {
		now.take(token)
		if end, ok := token.(xml.EndElement); ok && end.Name.Local == "si" {
			b.strings = append(b.strings, now.done())
			if len(b.strings) > maxStrings {
				return refuse("it holds more than %d texts; split it", maxStrings)
			}
		}
		return nil
	})
}

// textOf gathers the text of an item, which may lie in several runs. How a word
// is pronounced stands beside the text and is no part of it.
type textOf struct {
	text   strings.Builder
	inside bool
	spoken bool
}

func (t *textOf) take(token xml.Token) {
	switch e := token.(type) {
	case xml.StartElement:
		t.spoken = t.spoken || e.Name.Local == "rPh"
		t.inside = e.Name.Local == "t" && !t.spoken
	case xml.EndElement:
		t.inside = false
		if e.Name.Local == "rPh" {
			t.spoken = false
		}
	case xml.CharData:
		if t.inside {
			t.text.Write(e)
		}
	}
}

func (t *textOf) done() string {
	text := unescape(t.text.String())
	t.text.Reset()
	return text
}

// readFormats reads which number format each style has.
func (b *book) readFormats(a *archive, part string) error {
	own, cells := map[string]format{}, false
	return a.each(part, func(token xml.Token) error {
		switch e := token.(type) {
		case xml.StartElement:
			switch e.Name.Local {
			case "numFmt":
				own[attr(e, "numFmtId")] = formatOf(attr(e, "formatCode"))
			case "cellXfs":
				cells = true
			case "xf":
				if id := attr(e, "numFmtId"); cells {
					f, ok := own[id]
					if !ok {
						f = builtIn[id]
					}
					b.formats = append(b.formats, f)
					if len(b.formats) > maxFormats {
						return refuse("it holds more than %d cell styles", maxFormats)
					}
				}
			}
		case xml.EndElement:
			if e.Name.Local == "cellXfs" {
				cells = false
			}
		}
		return nil
	})
}
