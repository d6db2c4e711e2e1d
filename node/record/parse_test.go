package record

import (
	"errors"
	"strings"
	"testing"

	"plumbline/sync/entry"
)

// The abbreviations are common practice, no source.
func TestParseAndText(t *testing.T) {
	prospect := entry.NewRecordID(entry.Shared, Prospect, entry.PersonID{}, [16]byte{1}).String()
	rep := entry.NewRecordID(entry.Owned, Rep, entry.PersonID{7}, [16]byte{2}).String()
	for _, c := range []struct {
		kind              entry.Kind
		path, typed, want string
	}{
		{Prospect, "position", "LT", "tackle"},
		{Prospect, "position", "Tackle", "tackle"},
		{Prospect, "position", "t", "tackle"},
		{Prospect, "position", "wide receiver", "receiver"},
		{Prospect, "position", "LS", "specialist"},
		{Prospect, "position", "tight-end", "tight_end"},
		{Prospect, "jersey", "07", "07"},
		{Measurement, "prospect", strings.ToUpper(prospect), prospect},
		{Measurement, "what", "40", "forty"},
		{Measurement, "reading", "arm 33 1/4 listed", "33 1/4, listed"},
		{Rep, "quarter", "OT", "5"},
		{Rep, "quarter", "over time", "5"},
		{Rep, "clock", ":09", "0:09"},
		{Rep, "clock", "15:00", "15:00"},
		{Rep, "yard_line", "-25", "own 25"},
		{Rep, "yard_line", "+ 30", "opp 30"},
		{Rep, "yard_line", "Opp 1", "opp 1"},
		{Rep, "yard_line", "50", "50"},
		{Rep, "result", "+", "won"},
		{Rep, "result", "L", "lost"},
		{Rep, "pass_set", "45", "angle"},
		{Rep, "seen", "late_hands; lunging", "late_hands, lunging"},
		{Rep, "clip", "week 3 end zone 1:02:31.5 - 1:02:38", "week 3 end zone 1:02:31.5-1:02:38"},
		{Rep, "clip", "A 62:31-62:38.25", "A 1:02:31-1:02:38.25"},
		{Claim, "tally", "7/12", "7 of 12"},
		{Claim, "reps", rep, rep},
		{Evaluation, "filed", "2026-11-26", "2026-11-26"},
		{Evaluation, "summary", "Wins early.\n\nLoses late.", "Wins early.\n\nLoses late."},
		{SameAs, "verdict", "Y", "yes"},
		{SameAs, "first", rep, rep},
	} {
		r := Must(c.kind, c.path)
		v, err := r.Parse(c.typed)
		if err != nil {
			t.Error(err)
			continue
		}
		if got, err := r.Text(v); err != nil || got != c.want {
			t.Errorf("%s %q: shown as %q, %v; want %q", c.path, c.typed, got, err, c.want)
		}
		if err := r.Check(v); err != nil {
			t.Errorf("%s %q: accepted when typed, refused when checked: %v", c.path, c.typed, err)
		}
		if ref := v.Op == entry.OpReference; ref != r.Field.IsRef() {
			t.Errorf("%s %q: reference %t", c.path, c.typed, ref)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	game := entry.NewRecordID(entry.Shared, Game, entry.PersonID{}, [16]byte{1}).String()
	for _, c := range []struct {
		kind              entry.Kind
		path, typed, says string
	}{
		{Prospect, "name", " ", "clear it"},
		{Prospect, "name", "two\nlines", "one line"},
		{Prospect, "name", strings.Repeat("x", 121), "120"},
		{Prospect, "name", "bad\x00byte", "control character"},
		{Prospect, "name", "bad\xff", "UTF-8"},
		{Prospect, "position", "OL", "which one: tackle, guard or center?"},
		{Prospect, "position", "DB", "which one: cornerback or safety?"},
		{Prospect, "position", "gaurd", "did you mean guard?"},
		{Prospect, "class_year", "27", "1900"},
		{Prospect, "class_year", "soon", "whole number, such as 2027"},
		{Prospect, "jersey", "100", "one or two digits"},
		{Measurement, "prospect", "nobody", "not the id of a record"},
		{Measurement, "prospect", game, "the id of a prospect is wanted here, and this is the id of a game"},
		{Measurement, "reading", "height 6046", "needs its source"},
		{Measurement, "reading", "height 6048 verified", "eighths"},
		{Measurement, "reading", "height 6046 verified hand", "times only"},
		{Measurement, "reading", "heigth 6046 verified", "did you mean height or weight?"},
		{Game, "date", "2026-02-29", "YYYY-MM-DD"},
		{Game, "date", "11/26/2026", "YYYY-MM-DD"},
		{Game, "date", "1026-11-26", "before 1900"},
		{Measurement, "reading", "weight 265 verified 1026-03-01", "before 1900"},
		{Evaluation, "filed", "0026-11-26", "before 1900"},
		{Rep, "quarter", "6", "5 for overtime"},
		{Rep, "down", "0", "1 to 4"},
		{Rep, "clock", "15:01", "15:00 to 0:00"},
		{Rep, "clock", "12:75", "15:00 to 0:00"},
		{Rep, "yard_line", "25", "own 25 or opp 25"},
		{Rep, "yard_line", "own 51", "1 to 50"},
		{Rep, "assignment", "pull", "which one: pull_kick, pull_wrap or pull_skip?"},
		{Rep, "clip", "A 12:38-12:31", "ends after it starts"},
		{Rep, "clip", "12:31-12:38", "name the film"},
		{Rep, "clip", "A 12:61-12:68", "no time in a film"},
		{Rep, "seen", "late, late", "unique"},
		{Evaluation, "grades.hand_use", "10", "1 to 9"},
		{Evaluation, "grades.Hand", "7", "small"},
		{Evaluation, "overall", "6.5", "whole number"},
		{Evaluation, "filed", "yesterday", "YYYY-MM-DD"},
		{Evaluation, "summary", strings.Repeat("x", 40000), "32768"},
		{Claim, "tally", "13 of 12", "larger"},
		{Claim, "tally", "often", "7 of 12"},
		{Factor, "anchors.10", "beyond", "9"},
		{SameAs, "verdict", "maybe", "yes or no"},
		// Each says what is wrong, what is wanted, and gives an example.
		{Rep, "quarter", "late", "not a whole number, such as 2"},
		{Rep, "down", "OT", "not a whole number, such as 6"},
		{Evaluation, "overall", "12", "must be from 1 to 9 (the grade for today, 1 to 9, such as 6)"},
		{Prospect, "class_year", "27", "such as 2027"},
		{Measurement, "reading", "height 64 verified", "64 has 2 digits, and a height has four: one of feet, two of inches, one of eighths: type 5040 for 5'4\" or 6040 for 6'4\""},
		{Measurement, "reading", "hand 9 verified", "type 090 for 9\""},
		// A vocabulary that isn't listed as a whole says where it is.
		{Prospect, "position", "gaurd", "all of them: plumbline fields prospect"},
	} {
		_, err := Must(c.kind, c.path).Parse(c.typed)
		var problem *Invalid
		if !errors.As(err, &problem) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s %q: got %v; want an error that says %q", c.path, Shorten(c.typed), err, c.says)
		} else if strings.Contains(err.Error(), "\n") || len(err.Error()) > 300 {
			t.Errorf("%s: more than one clear sentence: %q", c.path, err)
		}
	}
}

func TestMeasured(t *testing.T) {
	for _, c := range []struct {
		reading Reading
		want    string
	}{
		{Reading{What: 1, Typed: "6'4 3/4\"", Source: "verified", Date: "2026-03-01"}, "6046, verified, 2026-03-01"},
		{Reading{What: 3, Typed: "33.5", Source: "listed"}, "334, listed"},
		{Reading{What: 6, Typed: "4.98", Source: "verified", Timing: "hand"}, "4.98, hand, verified"},
	} {
		what, reading, err := Measured(c.reading)
		if err != nil {
			t.Error(err)
			continue
		}
		if got, err := MeasuredText(what, reading); err != nil || got != c.want {
			t.Errorf("%+v: got %q, %v; want %q", c.reading, got, err, c.want)
		}
		line, err := Must(Measurement, "reading").Parse(c.reading.What.String() + " " +
			strings.Join([]string{c.reading.Typed, c.reading.Source, c.reading.Timing, c.reading.Date}, " "))
		if err != nil || string(line.Bytes) != string(reading.Bytes) {
			t.Errorf("%+v: in one line it is %x, %v; want %x", c.reading, line.Bytes, err, reading.Bytes)
		}
	}
	for _, c := range []struct {
		reading Reading
		says    string
	}{
		{Reading{What: 1, Typed: "6048", Source: "listed"}, "eighths"},
		{Reading{What: 1, Typed: "6046", Source: ""}, "source"},
		{Reading{What: 1, Typed: "6046", Source: "guess"}, "known: listed, estimated, verified"},
		{Reading{What: 1, Typed: "6046", Source: "listed", Date: "March"}, "YYYY-MM-DD"},
		{Reading{What: 6, Typed: "4.98", Source: "listed", Timing: "sundial"}, "hand, electronic"},
	} {
		if _, _, err := Measured(c.reading); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%+v: got %v; want an error that says %q", c.reading, err, c.says)
		}
	}
}
