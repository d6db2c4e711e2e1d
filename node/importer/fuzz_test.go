package importer

import (
	"bytes"
	"errors"
	"slices"
	"strings"
	"testing"

	"plumbline/node/record"
)

// FuzzImport reads any file as a table of each kind that has one: each row is
// proposed or counted as failed, or the file is refused as a whole.
func FuzzImport(f *testing.F) {
	f.Add([]byte("name,position,school,class_year\nAbel Quill,tackle,Norte,2027\n"), byte(0))
	f.Add([]byte("\ufeffname;school;arm\n\"Abel; Quill\";Norte;33 1/4\nx\n"), byte(1))
	f.Add([]byte("date,home,away,week\r\n2026-11-26,Norte,Sur,7\r\n\"open"), byte(2))
	f.Add([]byte("PK\x03\x04"), byte(3))
	kinds := slices.DeleteFunc(slices.Clone(record.Stored().Kinds()), func(k *record.Kind) bool {
		_, err := Import(strings.NewReader(""), Options{File: "table.csv", Kind: k.Number})
		return !errors.Is(err, ErrTable) // there are no tables of it
	})
	if len(kinds) < 5 {
		f.Fatalf("tables of %d kinds only", len(kinds))
	}
	f.Fuzz(func(t *testing.T, data []byte, kind byte) {
		got, err := Import(bytes.NewReader(data), Options{File: "table.csv", Kind: kinds[int(kind)%len(kinds)].Number})
		if err != nil {
			if !errors.Is(err, ErrTable) {
				t.Errorf("an error of another kind: %v", err)
			}
			return
		}
		if got.Failed > got.Rows {
			t.Errorf("%d rows, %d failed", got.Rows, got.Failed)
		}
		for _, p := range got.Proposals {
			for _, v := range p.Fields {
				if v.IsRef() {
					continue
				}
				if _, err := v.Register.Text(v.Value); err != nil {
					t.Errorf("line %d: a value that can't be shown: %v", p.Line, err)
				}
			}
		}
	})
}
