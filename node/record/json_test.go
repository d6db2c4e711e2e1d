package record

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	recordv1 "plumbline/proto/plumbline/record/v1"
	"plumbline/sync/entry"
)

func TestJSON(t *testing.T) {
	for _, c := range []struct {
		kind             entry.Kind
		path, json, want string
	}{
		{Prospect, "position", `"OT"`, `"tackle"`},
		{Prospect, "class_year", `2027`, `2027`},
		{Prospect, "name", `"A & B <C>"`, `"A & B <C>"`},
		{Rep, "clock", `751`, `751`},
		{Rep, "seen", `["late_hands", "lunging"]`, `["late_hands","lunging"]`},
		{Evaluation, "grades.hand_use", `7`, `7`},
		{Factor, "anchors.7", `"wins\nlate"`, `"wins\nlate"`},
		{Factor, "positions", `["OT","guard"]`, `["tackle","guard"]`},
		{Claim, "tally", `{"of": 12, "count": 7}`, `{"count":7,"of":12}`},
		{SameAs, "verdict", `false`, `false`},
		{Measurement, "reading", `{"amount":614,"unit":"eighth_inch","source":"verified"}`,
			`{"amount":614,"source":"verified","unit":"eighth_inch"}`},
	} {
		r := Must(c.kind, c.path)
		v, err := r.FromJSON([]byte(c.json))
		if err != nil {
			t.Error(err)
			continue
		}
		if got, err := r.ToJSON(v); err != nil || string(got) != c.want {
			t.Errorf("%s %s: got %s, %v; want %s", c.path, c.json, got, err, c.want)
		}
	}
}

func TestJSONRefuses(t *testing.T) {
	for _, c := range []struct {
		kind             entry.Kind
		path, json, says string
	}{
		{Prospect, "name", `"x`, "not JSON"},
		{Prospect, "name", `"x" "y"`, "more than one"},
		{Prospect, "name", `7`, "wanted here: text"},
		{Prospect, "name", `""`, "clear it"},
		{Prospect, "name", `null`, "wanted here: text"},
		{Prospect, "class_year", `2027.5`, "whole number"},
		{Prospect, "class_year", `99999999999`, "whole number"},
		{Prospect, "class_year", `"2027"`, "wanted here: number"},
		{Rep, "seen", `"late"`, "a list"},
		{Rep, "seen", `[7]`, "wanted here: text"},
		{Claim, "tally", `{"count":7}`, "of"},
		{Claim, "tally", `{"cuont":7}`, "did you mean count?"},
		{Claim, "tally", `{"count":"7","of":12}`, "count: wanted here: number"},
		{SameAs, "verdict", `1`, "yes or no"},
		{SameAs, "first", `"zz"`, "not the id"},
		{Measurement, "reading", `{"amount":614,"unit":"eighth_inch","source":"verified","date":"soon"}`, "YYYY-MM-DD"},
	} {
		_, err := Must(c.kind, c.path).FromJSON([]byte(c.json))
		var problem *Invalid
		if !errors.As(err, &problem) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s %s: got %v; want an error that says %q", c.path, c.json, err, c.says)
		}
	}
}

// What was read and checked is written as JSON that is read as the same bytes,
// and as text that is read as the same bytes.
func TestValuesSurviveTheirForms(t *testing.T) {
	all := registers()
	rapid.Check(t, func(t *rapid.T) {
		r := rapid.SampledFrom(all).Draw(t, "register")
		plain := rapid.OneOf(
			rapid.Map(rapid.IntRange(-3, 2200), func(n int) any { return n }),
			rapid.Map(rapid.SampledFrom([]string{"tackle", "won", "pass", "2026-11-26", "hand_use", "07", "Abel Ørn"}), func(s string) any { return s }),
			rapid.Just[any](true),
			rapid.Just[any]([]any{"tackle", "guard"}),
			rapid.Just[any](map[string]any{"count": 3, "of": 4}),
			rapid.Just[any](map[string]any{"film": "A", "start_ms": 61_500, "end_ms": 3_700_250}),
		).Draw(t, "plain")
		raw, err := json.Marshal(plain)
		if err != nil {
			t.Fatal(err)
		}
		v, err := r.FromJSON(raw)
		if err != nil {
			return
		}
		again, err := r.ToJSON(v)
		if err != nil {
			t.Fatal(err)
		}
		text, err := r.Text(v)
		if err != nil {
			t.Fatal(err)
		}
		fromJSON, err1 := r.FromJSON(again)
		fromText, err2 := r.Parse(text)
		if err1 != nil || err2 != nil || string(fromJSON.Bytes) != string(v.Bytes) || string(fromText.Bytes) != string(v.Bytes) {
			t.Fatalf("%s: %x became %x by JSON %s (%v) and %x by text %q (%v)",
				r.Path(), v.Bytes, fromJSON.Bytes, again, err1, fromText.Bytes, text, err2)
		}
	})
}

func TestSetFillsAMessage(t *testing.T) {
	got := &recordv1.Evaluation{}
	for path, typed := range map[string]string{"grades.hand_use": "7", "grades.feet": "5", "overall": "6", "reach": "year two"} {
		r := Must(Evaluation, path)
		v, err := r.Parse(typed)
		if err != nil {
			t.Fatal(err)
		}
		if err := r.Set(got, v); err != nil {
			t.Fatal(err)
		}
	}
	want := &recordv1.Evaluation{
		Grades: map[string]int32{"hand_use": 7, "feet": 5}, Overall: proto.Int32(6), Reach: recordv1.Reach_REACH_YEAR_TWO.Enum(),
	}
	if !proto.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}
