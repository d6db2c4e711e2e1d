package workbook

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"
)

const (
	// maxUnzipped bounds what all parts that are read hold together, and with it
	// how well any of them may be compressed.
	maxUnzipped = 64 << 20
	maxParts    = 10_000
	// maxDepth is how deep elements may lie in each other; a cell lies in six.
	maxDepth = 64
)

// ErrWorkbook is returned for a file that can't be read as a workbook.
var ErrWorkbook = errors.New("the workbook can't be read")

func refuse(format string, args ...any) error {
	return fmt.Errorf("%w: %s", ErrWorkbook, fmt.Sprintf(format, args...))
}

// other says what a file is that is packed as workbooks are, and is none.
type other string

func (o other) Error() string { return string(o) }
func (o other) Unwrap() error { return ErrWorkbook }

// Is reports whether a file's bytes begin as those of a workbook do.
func Is(data []byte) bool { return bytes.HasPrefix(data, []byte("PK\x03\x04")) }

// archive is the file, with what may still be unzipped.
type archive struct {
	files map[string]*zip.File
	left  int64
}

func openArchive(data []byte) (*archive, error) {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, refuse("the file is damaged (%v); save it again as .xlsx", err)
	}
	if len(z.File) > maxParts {
		return nil, refuse("it holds more than %d parts", maxParts)
	}
	a := &archive{files: map[string]*zip.File{}, left: maxUnzipped}
	for _, f := range z.File {
		a.files[strings.ToLower(strings.ReplaceAll(f.Name, `\`, "/"))] = f
	}
	return a, a.isWorkbook()
}

// isWorkbook refuses what is packed in the same way and is something else. Parts have
// the names that their standards give them (ECMA-376 part 2; ISO/IEC 26300 part 3).
func (a *archive) isWorkbook() error {
	switch {
	case a.has("word/document.xml"):
		return other("this is a text document (DOCX); copy its table into a spreadsheet, and save that as .xlsx or CSV")
	case a.has("ppt/presentation.xml"):
		return other("these are slides (PPTX); copy the table into a spreadsheet, and save that as .xlsx or CSV")
	case a.has("META-INF/manifest.xml") && a.has("mimetype"):
		return other("this is an OpenDocument file; save it as .xlsx or CSV")
	case !a.has("_rels/.rels") && !a.has("[Content_Types].xml"):
		return other("this is a zip archive and no workbook; unpack it, and import the table in it (.csv or .xlsx)")
	}
	return nil
}

func (a *archive) has(name string) bool { return a.files[strings.ToLower(name)] != nil }

// each calls do with every element and text of a part. It hands over tokens that
// are valid until do returns.
func (a *archive) each(name string, do func(xml.Token) error) error {
	file := a.files[strings.ToLower(name)]
	if file == nil {
		return refuse("its part %s is missing; save it as .xlsx", name)
	}
	from, err := file.Open()
	if err != nil {
		return refuse("its part %s is damaged: %v", name, err)
	}
	defer from.Close()
	decoder := xml.NewDecoder(&bounded{from, a})
	for depth := 0; ; {
		token, err := decoder.Token()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if errors.Is(err, ErrWorkbook) {
			return err
		}
		if err != nil {
			return refuse("its part %s is damaged: %v", name, err)
		}
		switch token.(type) {
		case xml.StartElement:
			depth++
		case xml.EndElement:
			depth--
		}
		if depth > maxDepth {
			return refuse("its part %s is no table", name)
		}
		if err := do(token); err != nil {
			return err
		}
	}
}

// bounded reads a part as long as the archive's bound allows.
type bounded struct {
	from io.Reader
	of   *archive
}

func (b *bounded) Read(p []byte) (int, error) {
	if b.of.left <= 0 {
		return 0, refuse("unzipped it is larger than %d MiB; split it", maxUnzipped>>20)
	}
	n, err := b.from.Read(p[:min(int64(len(p)), b.of.left)])
	b.of.left -= int64(n)
	return n, err
}

// relation is what one part says of another.
type relation struct{ kind, target string }

// relations reads what a part refers to, by id.
func (a *archive) relations(of string) (map[string]relation, error) {
	dir, base := path.Split(of)
	found := map[string]relation{}
	err := a.each(dir+"_rels/"+base+".rels", func(token xml.Token) error {
		e, ok := token.(xml.StartElement)
		if !ok || e.Name.Local != "Relationship" {
			return nil
		}
		target := attr(e, "Target")
		if absolute, ok := strings.CutPrefix(target, "/"); ok {
			target = absolute
		} else {
			target = path.Join(dir, target)
		}
		found[attr(e, "Id")] = relation{path.Base(attr(e, "Type")), target}
		return nil
	})
	return found, err
}

// attr returns an attribute, whatever its name space.
func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}
