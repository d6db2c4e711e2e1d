package main

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"

	"plumbline/node/record"
	v1 "plumbline/proto/plumbline/v1"
)

// writeRelated lists what refers to a record, by kind: of each what names it, who
// wrote it, and what it says in words.
func writeRelated(w io.Writer, answer *v1.GetResponse, ids bool) {
	kind := ""
	for _, related := range answer.GetRelated() {
		if related.GetKind() != kind {
			kind = related.GetKind()
			fmt.Fprintf(w, "\n%s\n", kind)
		}
		fmt.Fprintf(w, "  %s%s%s\n", relatedLine(answer.GetRecord(), related), by(related.GetPersonName()), marks(related))
		for _, line := range prose(related) {
			fmt.Fprintf(w, "    %s\n", line)
		}
		if ids {
			fmt.Fprintf(w, "    %s\n", related.GetId())
		}
	}
}

// relatedLine names a record beside the one that is shown, whose own name would
// stand in every line.
func relatedLine(shown, related *v1.Record) string {
	switch related.GetKind() {
	case "note":
		return cmp.Or(fieldText(related, "date"), "note")
	case "rep":
		return repLine(shown, related)
	}
	title := strings.TrimPrefix(related.GetTitle(), shown.GetTitle()+", ")
	title = strings.TrimSuffix(title, " by "+related.GetPersonName())
	switch related.GetKind() {
	case "claim":
		return cmp.Or(strings.Join(present(fieldText(related, "kind"), fieldText(related, "tally")), ", "), "claim")
	case "look":
		title = strings.TrimSuffix(title, ", seen")
		return strings.Join(present(title, fieldText(related, "mode"), onDay(fieldText(related, "date"))), ", ")
	case "evaluation":
		title = strings.TrimSuffix(strings.TrimSuffix(title, "evaluated"), ", ")
		return strings.Join(present(cmp.Or(title, "evaluation"), graded(related)), ", ")
	}
	return title
}

// repLine is what was charted of one snap.
func repLine(shown, rep *v1.Record) string {
	parts := present("rep "+fieldText(rep, "number"), quarter(rep), fieldText(rep, "play"), fieldText(rep, "pass_set"),
		fieldText(rep, "assignment"), fieldText(rep, "result"), fieldText(rep, "outcome"))
	if shown.GetKind() != "look" {
		if look := fieldText(rep, "look"); look != "" {
			look = strings.TrimPrefix(look, shown.GetTitle()+", ")
			game, _, _ := strings.Cut(look, ", seen by ")
			parts = append(parts, game)
		}
	}
	return strings.Join(parts, ", ")
}

func quarter(rep *v1.Record) string {
	q, clock := fieldText(rep, "quarter"), fieldText(rep, "clock")
	if q != "" {
		q = "Q" + q
	}
	return strings.Join(present(q, clock), " ")
}

func graded(evaluation *v1.Record) string {
	var parts []string
	for _, name := range []string{"overall", "projected", "role"} {
		if text := fieldText(evaluation, name); text != "" {
			parts = append(parts, name+" "+text)
		}
	}
	if day := fieldText(evaluation, "filed"); day != "" {
		parts = append(parts, "filed "+day)
	}
	return strings.Join(parts, ", ")
}

func onDay(date string) string {
	if date == "" {
		return ""
	}
	return "on " + date
}

// prose gives the lines of a record's texts. The texts of a record that has
// several are told apart by their names.
func prose(of *v1.Record) []string {
	kind, err := record.Stored().KindByName(of.GetKind())
	if err != nil {
		return nil // newer than this program
	}
	var texts []*v1.Field
	for _, field := range of.GetFields() {
		if known, err := kind.FieldByName(field.GetName()); err == nil && known.IsText() {
			texts = append(texts, field)
		}
	}
	var lines []string
	for _, field := range texts {
		text := shownText(field)
		if text == "" {
			continue
		}
		if of.GetKind() == "evaluation" || len(texts) > 1 {
			text = field.GetName() + ": " + text
		}
		lines = append(lines, strings.Split(text, "\n")...)
	}
	return lines
}

// fieldText is the shown text of one field; "" for none.
func fieldText(of *v1.Record, name string) string {
	for _, field := range of.GetFields() {
		if field.GetName() == name {
			return shownText(field)
		}
	}
	return ""
}

func shownText(field *v1.Field) string {
	if len(field.GetValues()) == 0 || field.GetValues()[0].GetCleared() {
		return ""
	}
	return valueText(field.GetValues()[0])
}

func present(parts ...string) []string {
	return slices.DeleteFunc(parts, func(part string) bool { return part == "" })
}
