package record

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"plumbline/sync/entry"
)

// The numbers of kinds and fields are addresses in everybody's ledger: a line of
// schema.txt may be added, never changed. It also shows at a glance that no field
// holds medical or character detail.
func TestSchemaKeepsItsAddresses(t *testing.T) {
	var got bytes.Buffer
	for _, k := range Stored().Kinds() {
		fmt.Fprintf(&got, "%d %s class %d\n", k.Number, k.Name, k.Class)
		for _, f := range k.Fields() {
			fmt.Fprintf(&got, "  %d %s: %s\n", f.Number, f.Name, f.Type())
			if values := f.Values(); values != nil {
				fmt.Fprintf(&got, "    %s\n", strings.Join(values, " "))
			}
		}
	}
	want, err := os.ReadFile(filepath.Join("testdata", "schema.txt"))
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got.Bytes(), want) {
		t.Errorf("the schema differs from testdata/schema.txt; it is now:\n%s", got.Bytes())
	}
}

func TestKindConstants(t *testing.T) {
	names := map[entry.Kind]string{
		Prospect: "prospect", Measurement: "measurement", Game: "game", Look: "look", Rep: "rep",
		Evaluation: "evaluation", Claim: "claim", Note: "note", Flag: "flag", Person: "person",
		Device: "device", Factor: "factor", Assignment: "assignment", SameAs: "same_as", Staff: "staff",
	}
	if len(names) != len(Stored().Kinds()) {
		t.Fatalf("%d constants, %d kinds", len(names), len(Stored().Kinds()))
	}
	for _, k := range Stored().Kinds() {
		if names[k.Number] != k.Name {
			t.Errorf("kind %d is %s, the constant says %q", k.Number, k.Name, names[k.Number])
		}
	}
}

func TestKindByName(t *testing.T) {
	for typed, want := range map[string]string{
		"prospect": "prospect", "Players": "prospect", "eval": "evaluation", "same-as": "same_as", " Laptop ": "device",
	} {
		k, err := Stored().KindByName(typed)
		if err != nil || k.Name != want {
			t.Errorf("%q: got %v, %v; want %s", typed, k, err, want)
		}
	}
	_, err := Stored().KindByName("prospcet")
	if !errors.Is(err, ErrUnknown) || !strings.Contains(err.Error(), "did you mean prospect?") {
		t.Errorf("got %v; want an unknown name with a near one", err)
	}
}

func TestRegisterByPath(t *testing.T) {
	for _, c := range []struct {
		kind    entry.Kind
		typed   string
		path    string
		address entry.Register
	}{
		{Prospect, "pos", "position", entry.Register{Field: 2}},
		{Prospect, "class_year", "class_year", entry.Register{Field: 4}},
		{Rep, "Pass set", "pass_set", entry.Register{Field: 9}},
		{Evaluation, "grades.hand_use", "grades.hand_use", entry.Register{Field: 2, Keyed: true, Key: "hand_use"}},
		{Factor, "anchor.07", "anchors.7", entry.Register{Field: 2, Keyed: true, Key: "7"}},
	} {
		r := Must(c.kind, c.typed)
		if r.Path() != c.path || r.Address() != c.address {
			t.Errorf("%q: got %s at %+v; want %s at %+v", c.typed, r.Path(), r.Address(), c.path, c.address)
		}
		back, ok := r.Kind.At(c.address)
		if !ok || back != r {
			t.Errorf("%q: the address leads to %+v", c.typed, back)
		}
	}
	for _, c := range []struct {
		kind        entry.Kind
		typed, says string
	}{
		{Evaluation, "grades", "type grades.KEY"},
		{Evaluation, "overall.x", "leave out what is behind the dot"},
		{Factor, "anchors.high", "the key is a whole number"},
		{Rep, "qaurter", "did you mean quarter?"},
	} {
		k, _ := Stored().Kind(c.kind)
		if _, err := k.Register(c.typed); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%q: got %v, want an error that says %q", c.typed, err, c.says)
		}
	}
	k, _ := Stored().Kind(Factor)
	for _, strange := range []entry.Register{{Field: 99}, {Field: 2}, {Field: 1, Keyed: true}, {Field: 2, Keyed: true, Key: "07"}} {
		if r, ok := k.At(strange); ok {
			t.Errorf("%+v leads to %s", strange, r.Path())
		}
	}
}

// What a form needs to know of fields. Grades from 1 to 9 and the words of the
// trade are common practice, no source.
func TestWhatPeopleTypeForAField(t *testing.T) {
	if got := Must(Rep, "result").Field.Synonyms(); !slices.Equal(got["w"], []string{"won"}) || !slices.Equal(got["+"], []string{"won"}) || got["won"] != nil {
		t.Errorf("the words for results: %v", got)
	}
	if got := Must(Rep, "assignment").Field.Synonyms()["pull"]; !slices.Equal(got, []string{"pull_kick", "pull_wrap", "pull_skip"}) {
		t.Errorf("pull may mean %v", got)
	}
	for word, names := range Must(Rep, "assignment").Field.Synonyms() {
		if word != fold(word) || len(names) == 1 && fold(names[0]) == word {
			t.Errorf("%q, for %v, isn't another word", word, names)
		}
	}
	if got := Must(Factor, "anchors.7").Field.Keys(); !slices.Equal(got, []string{"1", "2", "3", "4", "5", "6", "7", "8", "9"}) {
		t.Errorf("the keys of anchors: %v", got)
	}
	if f := Must(Evaluation, "grades.hand_use").Field; f.Keys() != nil || f.KeyedBy != "factor" {
		t.Errorf("grades have the keys %v, by %q", f.Keys(), f.KeyedBy)
	}
	for _, k := range Stored().Kinds() {
		for _, f := range k.Fields() {
			if _, err := Stored().KindByName(f.KeyedBy); f.KeyedBy != "" && (err != nil || !f.IsMap()) {
				t.Errorf("%s.%s is keyed by %q", k.Name, f.Name, f.KeyedBy)
			}
		}
	}
}
