package main

import (
	"context"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"plumbline/node"
	"plumbline/node/near"
	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) fields() *cobra.Command {
	return &cobra.Command{
		Use: "fields [KIND]", Short: "List the fields of a kind of record: what they take, and what they mean",
		Long: `List the fields of a kind of record with what they take and what they mean, and the
figures that expressions and columns may use besides. Without a kind, list the
kinds.`,
		Example: `  plumbline fields
  plumbline fields prospect`,
		Args: cobra.MaximumNArgs(1), ValidArgsFunction: completeKinds,
		RunE: func(cmd *cobra.Command, args []string) error {
			if node.Vacant(a.data, a.state) != nil { // nobody needs a staff to read on
				return a.showFields(rpc.Schema(), args)
			}
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				answer, err := c.Ledger.Schema(ctx, &v1.SchemaRequest{})
				if err != nil {
					return err
				}
				return a.showFields(answer, args)
			})
		},
	}
}

func (a *app) showFields(schema *v1.SchemaResponse, args []string) error {
	if len(args) == 0 {
		return a.print(schema, func(w io.Writer) { writeKinds(w, schema.GetKinds()) })
	}
	kind, err := kindCalled(schema.GetKinds(), args[0])
	if err != nil {
		return err
	}
	return a.print(kind, func(w io.Writer) { writeKind(w, kind) })
}

// kindCalled finds a kind among those that the node has, which may be newer than
// this program.
func kindCalled(kinds []*v1.KindInfo, name string) (*v1.KindInfo, error) {
	known := make([]string, 0, len(kinds))
	for _, kind := range kinds {
		for _, called := range append([]string{kind.GetName()}, kind.GetAliases()...) {
			if strings.EqualFold(called, name) {
				return kind, nil
			}
		}
		known = append(known, kind.GetName())
	}
	return nil, &advice{node.ErrNotFound, fmt.Sprintf("no kind of record is called %q%s", name, near.Hint(name, known))}
}

func writeKinds(w io.Writer, kinds []*v1.KindInfo) {
	var rows [][]string
	for _, kind := range kinds {
		rows = append(rows, []string{kind.GetName(), kind.GetHelp(), writers[kind.GetRights()]})
	}
	table(w, "", rows)
}

// writers says who may write records, by their class of rights.
var writers = map[string]string{
	"owned": "its author writes it", "shared": "everybody writes it", "director": "directors write it",
}

func writeKind(w io.Writer, kind *v1.KindInfo) {
	fmt.Fprintf(w, "%s: %s; %s\n", kind.GetName(), kind.GetHelp(), writers[kind.GetRights()])
	writeInfos(w, kind.GetFields())
	if len(kind.GetFigures()) > 0 {
		fmt.Fprintln(w, "\nfigures, for expressions and columns")
		writeInfos(w, kind.GetFigures())
	}
}

// ofEach ends the names of figures that every measurement has.
var ofEach = []string{"_source", "_percentile", "_cohort"}

// isRepeated reports whether a figure is another measurement's of a sort that
// has been listed.
func isRepeated(listed map[string]bool, name string) bool {
	for _, end := range ofEach {
		if strings.HasSuffix(name, end) {
			again := listed[end]
			listed[end] = true
			return again
		}
	}
	return false
}

func writeInfos(w io.Writer, fields []*v1.FieldInfo) {
	var rows [][]string
	listed := map[string]bool{}
	for _, field := range fields {
		name := field.GetName()
		if isRepeated(listed, name) {
			continue
		}
		if field.GetKeyed() {
			name += ".KEY"
		}
		rows = append(rows, []string{name, typeWords(field), meaning(field)})
	}
	table(w, "  ", rows)
	if len(listed) > 0 {
		fmt.Fprintf(w, "  and so with %s for each of the other measurements\n", near.Or(ofEach))
	}
}

// typeWords says what a field takes. Figures have the types of expressions.
func typeWords(field *v1.FieldInfo) string {
	switch t := field.GetType(); {
	case len(field.GetChoices()) > 0:
		return "one word of"
	case t == "int":
		return "whole number"
	case t == "double":
		return "number"
	case t == "string":
		return "text"
	case strings.HasPrefix(t, "list("):
		return "list of text"
	case strings.HasPrefix(t, "map("):
		return "number by key"
	default:
		return t
	}
}

// meaning has the words that a field takes, all of them, unless its help does.
func meaning(field *v1.FieldInfo) string {
	parts := []string{field.GetHelp()}
	for _, choice := range field.GetChoices() {
		if !strings.Contains(field.GetHelp(), choice) {
			parts = []string{strings.Join(field.GetChoices(), ", ")}
			break
		}
	}
	if parts[0] == "" && !strings.EqualFold(field.GetLabel(), field.GetName()) {
		return field.GetLabel()
	}
	return parts[0]
}
