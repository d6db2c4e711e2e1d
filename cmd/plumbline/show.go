package main

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"

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
	writeRelated(w, answer, ids)
}

func writeRecord(w io.Writer, record *v1.Record, ids bool) {
	author := by(record.GetPersonName())
	if strings.HasSuffix(record.GetTitle(), author) {
		author = "" // the title says it
	}
	fmt.Fprintf(w, "%s (%s)%s%s\n", record.GetTitle(), record.GetKind(), author, marks(record))
	fmt.Fprintf(w, "%s\n", record.GetId())
	if len(record.GetMembers()) > 1 {
		fmt.Fprintf(w, "joined from %s\n", strings.Join(record.GetMembers(), " and "))
	}
	var rows [][]string
	for _, field := range record.GetFields() {
		rows = append(rows, fieldRows(field, ids)...)
	}
	table(w, "  ", rows)
	writeLong(w, record.GetFields())
}

// writeLong gives what a line of the table had no room for.
func writeLong(w io.Writer, fields []*v1.Field) {
	for _, field := range fields {
		for _, group := range gathered(field.GetValues()) {
			text := valueText(group[0])
			if cell(text) == text {
				continue
			}
			fmt.Fprintf(w, "\n  %s, %s\n", field.GetName(), origins(group))
			writeProse(w, "    ", text)
		}
	}
}

// fieldRows gives one row for each live value: the first is the one to show.
// What several people wrote alike is one row, unless the ids are wanted.
func fieldRows(field *v1.Field, ids bool) [][]string {
	var rows [][]string
	name := field.GetName()
	groups := gathered(field.GetValues())
	if ids {
		groups = singly(field.GetValues())
	}
	for i, group := range groups {
		note := ""
		if field.GetConflict() && i == 0 {
			note = "in conflict with:"
		}
		row := []string{name, cell(valueText(group[0])), origins(group), note}
		if ids {
			row = append(row, group[0].GetId())
		}
		rows = append(rows, row)
		name = ""
	}
	return rows
}

func singly(values []*v1.Value) [][]*v1.Value {
	var groups [][]*v1.Value
	for _, value := range values {
		groups = append(groups, []*v1.Value{value})
	}
	return groups
}

// gathered puts together the values that say the same.
func gathered(values []*v1.Value) [][]*v1.Value {
	var groups [][]*v1.Value
	for _, value := range values {
		at := slices.IndexFunc(groups, func(group []*v1.Value) bool { return sayTheSame(group[0], value) })
		if at < 0 {
			groups = append(groups, nil)
			at = len(groups) - 1
		}
		groups[at] = append(groups[at], value)
	}
	return groups
}

// sayTheSame compares what the values are, not only how they look. What can't be
// read may differ.
func sayTheSame(one, other *v1.Value) bool {
	return !one.GetUnreadable() && !other.GetUnreadable() && one.GetCleared() == other.GetCleared() &&
		proto.Equal(one.GetJson(), other.GetJson()) && one.GetText() == other.GetText()
}

// origins is origin for a value that several people wrote: each once, those together
// who wrote it in one minute and from one list.
func origins(values []*v1.Value) string {
	var all, names []string
	together := map[string][]string{}
	for _, value := range values {
		name, rest := value.GetPersonName(), whence(value)
		if slices.Contains(names, name) {
			continue
		}
		if names = append(names, name); together[rest] == nil {
			all = append(all, rest)
		}
		together[rest] = append(together[rest], name)
	}
	for i, rest := range all {
		all[i] = listed(append(together[rest], rest)...)
	}
	return strings.Join(all, "; ")
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
func origin(value *v1.Value) string { return listed(value.GetPersonName(), whence(value)) }

func whence(value *v1.Value) string {
	source := value.GetSource()
	if source != "" {
		source = "from " + source
	}
	return listed(when(value.GetWritten()), source)
}

func listed(parts ...string) string {
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
