package main

import (
	"context"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) conflicts() *cobra.Command {
	return &cobra.Command{
		Use: "conflicts [RECORD]", Short: "List what only a person can settle",
		Long: `List fields with several different values, retirements in dispute, and records that
were joined and kept apart at once: who wrote what, when, and what to do.`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			req := &v1.ConflictsRequest{}
			if len(args) == 1 {
				req.Record = args[0]
			}
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				answer, err := c.Ledger.Conflicts(ctx, req)
				if err != nil {
					return err
				}
				return a.print(answer, func(w io.Writer) {
					for _, conflict := range answer.GetConflicts() {
						a.writeConflict(w, conflict)
					}
					fmt.Fprintln(w, counted(len(answer.GetConflicts()), "conflict", "conflicts"))
				})
			})
		},
	}
}

func (a *app) writeConflict(w io.Writer, conflict *v1.Conflict) {
	field := conflict.GetField()
	about := conflict.GetAbout()
	if field != nil {
		about = field.GetName()
	}
	fmt.Fprintf(w, "%s (%s): %s\n", conflict.GetTitle(), conflict.GetKind(), about)
	var rows [][]string
	if before := conflict.GetAncestor(); before != nil {
		rows = append(rows, []string{cell(valueText(before)), origin(before), "(before)"})
	}
	for _, group := range gathered(field.GetValues()) {
		rows = append(rows, []string{cell(valueText(group[0])), origins(group), group[0].GetId()})
	}
	table(w, "  ", rows)
	if field != nil && len(field.GetValues()) > 0 {
		fmt.Fprintf(w, "  %s\n", a.command("settle", conflict.GetRecord(), field.GetName(), "--choose", field.GetValues()[0].GetId()))
	} else {
		fmt.Fprintf(w, "  %s\n", conflict.GetAdvice())
	}
	fmt.Fprintln(w)
}
