package main

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"

	v1 "plumbline/proto/plumbline/v1"
)

// maxChangesTold bounds how many records a trial names.
const maxChangesTold = 20

// writeChanges says what a trial would change of the records that are here: what stands
// there, and what comes. New ones are only counted.
func writeChanges(w io.Writer, answer *v1.ImportResponse) {
	here := slices.DeleteFunc(slices.Clone(answer.GetRecords()), (*v1.ImportedRecord).GetAdded)
	if !answer.GetDryRun() || len(here) == 0 {
		return
	}
	rows := make([][]string, 0, maxChangesTold)
	for _, one := range here[:min(len(here), maxChangesTold)] {
		var fields []string
		for _, f := range one.GetFields() {
			fields = append(fields, changeOf(f))
		}
		if len(fields) == 0 {
			fields = []string{"what it is joined with, or refers to"}
		}
		rows = append(rows, []string{fmt.Sprintf("line %d:", one.GetLine()), cell(one.GetTitle()), strings.Join(fields, "; ")})
	}
	table(w, "", rows)
	more := int(answer.GetChanged()) - len(rows)
	switch {
	case more <= 0:
	case len(here) < int(answer.GetChanged()):
		fmt.Fprintf(w, "and %d more; --json has the first %d\n", more, len(here))
	default:
		fmt.Fprintf(w, "and %d more; --json has all\n", more)
	}
}

func changeOf(f *v1.ImportedField) string {
	before, after := cell(f.GetBefore()), cell(f.GetAfter())
	switch {
	case f.GetBeside():
		return fmt.Sprintf("%s: %s beside %s, to be settled", f.GetName(), after, cmp.Or(before, "empty"))
	case before == "":
		return fmt.Sprintf("%s: %s, which was empty", f.GetName(), after)
	}
	return fmt.Sprintf("%s: %s instead of %s", f.GetName(), after, before)
}
