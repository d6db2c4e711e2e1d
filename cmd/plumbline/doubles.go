package main

import (
	"context"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"plumbline/node"
	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) doubles() *cobra.Command {
	return &cobra.Command{
		Use: "doubles", Short: "Suggest prospects with close names that may be the same", Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				p := a.progress("comparing names")
				answer, err := c.Ledger.Doubles(ctx, &v1.DoublesRequest{})
				p.stop()
				if err != nil {
					return err
				}
				return a.print(answer, func(w io.Writer) {
					for _, double := range answer.GetDoubles() {
						a.writeDouble(w, double)
					}
					fmt.Fprintln(w, counted(len(answer.GetDoubles()), "pair", "pairs"))
				})
			})
		},
	}
}

// writeDouble shows a pair: why the two may be one, what tells each from the other,
// and what to type if they are.
func (a *app) writeDouble(w io.Writer, double *v1.Double) {
	first, second := double.GetFirst(), double.GetSecond()
	fmt.Fprintf(w, "%s / %s: %s\n", first.GetTitle(), second.GetTitle(), double.GetReason())
	short := node.ShortIDs(first.GetId(), second.GetId())
	var rows [][]string
	for i, one := range []*v1.Record{first, second} {
		said := node.Apart(one.GetKind(), func(field string) string { return fieldText(one, field) })
		rows = append(rows, []string{short[i], one.GetTitle(), said})
	}
	table(w, "  ", rows)
	fmt.Fprintf(w, "  %s\n\n", a.command("same", first.GetId(), second.GetId()))
}
