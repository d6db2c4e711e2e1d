package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) show() *cobra.Command {
	var history, ids bool
	cmd := &cobra.Command{
		Use: "show RECORD", Short: "Show a record, who wrote what of it, and what refers to it",
		Example: `  plumbline show "Orrin Vale"
  plumbline show "Orrin Vale" --history`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				if history {
					return a.showHistory(ctx, c, args[0])
				}
				answer, err := c.Ledger.Get(ctx, &v1.GetRequest{Record: args[0]})
				if err != nil {
					return err
				}
				return a.print(answer, func(w io.Writer) { writeDetail(w, answer, ids) })
			})
		},
	}
	cmd.Flags().BoolVar(&history, "history", false, "show every entry on the record, the oldest first")
	cmd.Flags().BoolVar(&ids, "ids", false, "show each value's id, which set --seen takes")
	return cmd
}

func writeDetail(w io.Writer, answer *v1.GetResponse, ids bool) {
	writeRecord(w, answer.GetRecord(), ids)
	writeSummary(w, answer)
	kind := ""
	for _, related := range answer.GetRelated() {
		if related.GetKind() != kind {
			kind = related.GetKind()
			fmt.Fprintf(w, "\n%s\n", kind)
		}
		fmt.Fprintf(w, "  %s%s%s\n", cell(related.GetTitle()), by(related.GetPersonName()), marks(related))
		if ids {
			fmt.Fprintf(w, "    %s\n", related.GetId())
		}
	}
}

func writeRecord(w io.Writer, record *v1.Record, ids bool) {
	fmt.Fprintf(w, "%s (%s)%s%s\n", record.GetTitle(), record.GetKind(), by(record.GetPersonName()), marks(record))
	fmt.Fprintf(w, "%s\n", record.GetId())
	if len(record.GetMembers()) > 1 {
		fmt.Fprintf(w, "joined from %s\n", strings.Join(record.GetMembers(), " and "))
	}
	var rows [][]string
	for _, field := range record.GetFields() {
		rows = append(rows, fieldRows(field, ids)...)
	}
	table(w, "  ", rows)
}

// fieldRows gives one row for each live value: the first is the one to show.
func fieldRows(field *v1.Field, ids bool) [][]string {
	var rows [][]string
	name := field.GetName()
	for i, value := range field.GetValues() {
		note := ""
		if field.GetConflict() && i == 0 {
			note = "in conflict with:"
		}
		row := []string{name, cell(valueText(value)), origin(value), note}
		if ids {
			row = append(row, value.GetId())
		}
		rows = append(rows, row)
		name = ""
	}
	return rows
}

// valueText is a value in the trade's writing, or what there is instead of it.
func valueText(value *v1.Value) string {
	switch {
	case value.GetUnreadable():
		return "(newer than this program)"
	case value.GetCleared():
		return "(cleared)"
	}
	return value.GetText()
}

// origin says who wrote a value, when, and from which list it came.
func origin(value *v1.Value) string {
	parts := []string{value.GetPersonName(), when(value.GetWritten())}
	if value.GetSource() != "" {
		parts = append(parts, "from "+value.GetSource())
	}
	return strings.Join(slices.DeleteFunc(parts, func(part string) bool { return part == "" }), ", ")
}

func by(name string) string {
	if name == "" {
		return ""
	}
	return " by " + name
}

// marks says what is odd about a record, for the line that names it.
func marks(record *v1.Record) string {
	switch record.GetVisibility() {
	case v1.Visibility_VISIBILITY_HIDDEN:
		return " [retired]"
	case v1.Visibility_VISIBILITY_DISPUTED:
		return " [retired by someone who hadn't read everything: keep or retire it]"
	}
	return ""
}

// writeSummary lists what is worked out, without the record's own fields, which
// expressions use as well.
func writeSummary(w io.Writer, answer *v1.GetResponse) {
	summary := answer.GetSummary()
	var rows [][]string
	for _, name := range slices.Sorted(maps.Keys(summary.GetFields())) {
		value := summary.GetFields()[name].AsInterface()
		if value == nil || fieldNamed(answer.GetRecord(), name) {
			continue
		}
		text, isText := value.(string)
		if !isText {
			data, err := json.Marshal(value)
			if err != nil {
				continue // a number that JSON has no word for says nothing
			}
			text = string(data)
		}
		rows = append(rows, []string{name, cell(text)})
	}
	if rows != nil {
		fmt.Fprintln(w, "\nworked out")
		table(w, "  ", rows)
	}
}

func fieldNamed(record *v1.Record, name string) bool {
	return slices.ContainsFunc(record.GetFields(), func(f *v1.Field) bool {
		path, _, _ := strings.Cut(f.GetName(), ".")
		return path == name
	})
}
