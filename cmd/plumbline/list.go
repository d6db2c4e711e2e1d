package main

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"slices"

	"github.com/spf13/cobra"

	"plumbline/node/record"
	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) list() *cobra.Command {
	req := &v1.ListRequest{}
	var ids bool
	cmd := &cobra.Command{
		Use: "list [KIND]", Short: "List the records that match",
		Long: `List the records of a kind (prospects if none is named) that match an expression.

The expression is CEL over the kind's fields and figures. Comparing what is missing
is false, not an error; known(arm) asks whether it is there. "plumbline fields"
lists both. Columns that nothing stands in are left out, unless --columns names
them.`,
		Example: `  plumbline list --where 'position == "tackle" && arm >= 332' --sort -overall
  plumbline list evaluation --columns prospect,verdict --limit 20`,
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: completeKinds,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 1 {
				req.Kind = args[0]
			}
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				p := a.progress("listing")
				answer, err := c.Ledger.List(ctx, req)
				p.stop()
				if err != nil {
					return err
				}
				if len(answer.GetRows()) == 0 && !a.json {
					return a.advise("no %s matches", cmp.Or(kindName(req.GetKind()), "prospect"))
				}
				if len(req.GetColumns()) == 0 && !a.json {
					dropEmpty(answer)
				}
				return a.print(answer, func(w io.Writer) { writeListing(w, answer, ids) })
			})
		},
	}
	flags := cmd.Flags()
	flags.StringVarP(&req.Where, "where", "w", "", "expression that a record must match")
	flags.StringVarP(&req.Search, "search", "s", "", "words to find in names and texts")
	flags.StringSliceVar(&req.Sort, "sort", nil, "fields to sort by, with - in front downwards")
	flags.StringSliceVarP(&req.Columns, "columns", "c", nil, "fields and figures to show")
	flags.Uint32VarP(&req.Limit, "limit", "n", 0, "show at most so many (0 for all)")
	flags.BoolVar(&req.Hidden, "retired", false, "also list what was retired")
	flags.BoolVar(&ids, "ids", false, "show each record's id")
	complete(cmd, "columns", completeFields)
	complete(cmd, "sort", completeFields)
	return cmd
}

// kindName is a kind's own name, which may have been typed as an alias.
func kindName(typed string) string {
	if kind, err := record.Stored().KindByName(typed); err == nil {
		return kind.Name
	}
	return typed
}

// dropEmpty takes out the columns in which no row has anything.
func dropEmpty(answer *v1.ListResponse) {
	empty := func(i int) bool {
		return !slices.ContainsFunc(answer.GetRows(), func(row *v1.Row) bool { return row.GetTexts()[i] != "" })
	}
	for i := len(answer.GetColumns()) - 1; i >= 0; i-- {
		if empty(i) {
			answer.Columns = slices.Delete(answer.Columns, i, i+1)
			for _, row := range answer.GetRows() {
				row.Texts = slices.Delete(row.Texts, i, i+1)
			}
		}
	}
}

func writeListing(w io.Writer, answer *v1.ListResponse, ids bool) {
	marked := false
	for _, row := range answer.GetRows() {
		marked = marked || row.GetConflicts() > 0
	}
	head := append([]string{}, answer.GetColumns()...)
	rows := [][]string{surround(head, marked, "!", ids, "id")}
	for _, row := range answer.GetRows() {
		cells := make([]string, 0, len(head)+2)
		for _, text := range row.GetTexts() {
			cells = append(cells, cell(text))
		}
		mark := ""
		if row.GetConflicts() > 0 {
			mark = fmt.Sprint(row.GetConflicts())
		}
		rows = append(rows, surround(cells, marked, mark, ids, row.GetId()))
	}
	table(w, "", rows)
	if shown := len(answer.GetRows()); shown < int(answer.GetTotal()) {
		fmt.Fprintf(w, "%d of %d; --limit 0 shows all\n", shown, answer.GetTotal())
	}
	if marked {
		fmt.Fprintln(w, "! counts fields in conflict: plumbline conflicts")
	}
}

// surround adds the columns that aren't the record's own.
func surround(cells []string, marked bool, mark string, ids bool, id string) []string {
	if marked {
		cells = append([]string{mark}, cells...)
	}
	if ids {
		cells = append(cells, id)
	}
	return cells
}
