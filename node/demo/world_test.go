package demo

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"

	"plumbline/node/importer"
	"plumbline/node/near"
	"plumbline/node/record"
	"plumbline/sync/entry"
)

// all gives every table of a world and what it proposes.
func all(t *testing.T, w *World, each func(PersonIndex, Table, *importer.Result)) {
	t.Helper()
	for person := range w.People {
		for _, table := range w.Tables(PersonIndex(person)) {
			kind, err := record.Stored().KindByName(table.Kind)
			if err != nil {
				t.Fatal(err)
			}
			got, err := importer.Import(bytes.NewReader(table.Data), importer.Options{File: table.File, Kind: kind.Number})
			if err != nil {
				t.Fatal(err)
			}
			each(PersonIndex(person), table, got)
		}
	}
}

func TestTablesImportWithoutAProblem(t *testing.T) {
	for seed := range uint64(20) {
		all(t, New(seed, Small), func(_ PersonIndex, table Table, got *importer.Result) {
			for _, p := range got.Problems {
				t.Errorf("seed %d: %v", seed, p)
			}
			if got.Rows != table.Rows {
				t.Errorf("seed %d: %s has %d rows, and says %d", seed, table.File, got.Rows, table.Rows)
			}
		})
	}
}

// What is distinct in the world is distinct in the tables: no two records have
// one natural key, and what several list is one record.
func TestSizes(t *testing.T) {
	w := New(1, Small)
	type key struct {
		person PersonIndex // of what is owned
		kind   entry.Kind
		key    string
	}
	rows, distinct := map[string]int{}, map[key]bool{}
	all(t, w, func(person PersonIndex, table Table, got *importer.Result) {
		rows[table.Kind] += table.Rows
		for _, p := range got.Proposals {
			k, _ := record.Stored().Kind(p.Kind)
			of := key{kind: p.Kind, key: p.NaturalKey}
			if k.Class == entry.Owned {
				of.person = person
				if distinct[of] {
					t.Errorf("%s: %s line %d is there already", table.File, k.Name, p.Line)
				}
			}
			distinct[of] = true
		}
	})
	counts := map[entry.Kind]int{}
	for k := range distinct {
		counts[k.kind]++
	}
	for kind, want := range map[entry.Kind]int{record.Prospect: 64, record.Game: 4, record.Look: 30, record.Rep: 600, record.Evaluation: 90} {
		if counts[kind] != want {
			t.Errorf("kind %d: %d records, want %d", kind, counts[kind], want)
		}
	}
	if rows["prospect"] != 64+2*13 || rows["measurement"] < 200 {
		t.Errorf("rows: %v", rows)
	}
	line := 0
	for _, p := range w.Prospects {
		if onLine(p.Position) {
			line++
		}
	}
	if line != 24 || len(w.People) != 3 {
		t.Errorf("%d linemen, %d people", line, len(w.People))
	}
}

func TestTheSameSeedGivesTheSameBytes(t *testing.T) {
	text := func(seed uint64) string {
		w := New(seed, Small)
		var b strings.Builder
		for person := range w.People {
			for _, table := range w.Tables(PersonIndex(person)) {
				b.WriteString(table.File)
				b.Write(table.Data)
			}
			for _, edit := range w.Edits(PersonIndex(person)) {
				b.WriteString(edit.Kind + edit.Record)
				for _, set := range edit.Sets {
					b.WriteString(set.Field + set.Text)
				}
			}
		}
		return b.String()
	}
	once, again, other := text(7), text(7), text(8)
	if once != again {
		t.Error("one seed gave two worlds")
	}
	if once == other {
		t.Error("two seeds gave one world")
	}
}

// Suggested doubles are the ones that are meant: in one school no two names are
// close, but for the player who is added twice.
func TestNamesAreApart(t *testing.T) {
	for seed := range uint64(20) {
		w := New(seed, Small)
		names := map[string][]string{}
		for _, p := range w.Prospects {
			names[p.School] = append(names[p.School], inOrder(p.Name))
		}
		for school, here := range names {
			for i, name := range here {
				if found := near.Names(name, append(append([]string{}, here[:i]...), here[i+1:]...)); found != nil {
					t.Errorf("seed %d, %s: %s is close to %s", seed, school, name, found)
				}
			}
		}
		if near.Names(inOrder(w.Twice.First), []string{inOrder(w.Twice.Second)}) == nil || w.Twice.First == w.Twice.Second {
			t.Errorf("seed %d: %s and %s are not close", seed, w.Twice.First, w.Twice.Second)
		}
	}
}

// Each edit is of fields that there are, in words that they take.
func TestEditsCanBeTyped(t *testing.T) {
	for seed := range uint64(20) {
		w := New(seed, Small)
		for person := range w.People {
			for _, edit := range w.Edits(PersonIndex(person)) {
				name := edit.Kind
				if name == "" {
					name = "prospect"
				}
				kind, err := record.Stored().KindByName(name)
				if err != nil {
					t.Fatal(err)
				}
				for _, set := range edit.Sets {
					register, err := kind.Register(set.Field)
					if err != nil {
						t.Error(err)
						continue
					}
					if register.Field.RefersTo != "" {
						continue // by name, which the node finds
					}
					if _, err := register.Parse(set.Text); err != nil {
						t.Errorf("seed %d: %v", seed, err)
					}
				}
			}
		}
		for _, d := range w.Disputes() {
			if texts := typed(w, d); len(texts) == 0 || len(texts) == 2 && texts[0] == texts[1] {
				t.Errorf("seed %d: %v is typed as %q", seed, d, texts)
			}
		}
	}
}

func typed(w *World, d Dispute) []string {
	var texts []string
	for person := range w.People {
		for _, edit := range w.Edits(PersonIndex(person)) {
			for _, set := range edit.Sets {
				if edit.Record == d.Record && set.Field == d.Field {
					texts = append(texts, set.Text)
				}
			}
		}
	}
	return texts
}

// The tables are as RFC 4180 has them: a header, and as many cells in each row.
func TestTablesAreCSV(t *testing.T) {
	w := New(3, Small)
	for person := range w.People {
		for _, table := range w.Tables(PersonIndex(person)) {
			rows, err := csv.NewReader(bytes.NewReader(table.Data)).ReadAll()
			if err != nil || len(rows) != table.Rows+1 {
				t.Errorf("%s: %d rows, %v", table.File, len(rows), err)
			}
		}
	}
}
