package main

import (
	"cmp"
	"context"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) aside() *cobra.Command {
	req := &v1.SetAsideRequest{}
	cmd := &cobra.Command{
		Use: "aside", Short: "List entries that are kept but don't count, and why",
		Long: `List entries that are kept but don't count: written by a laptop after its standing
ended, or by someone who may not write to that record. What was written after its
laptop's standing ended a director can let count, with plumbline accept. What stands
under "the staff" decides who may what, and each line says what it did.`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				answer, err := c.Ledger.SetAside(ctx, req)
				if err != nil {
					return err
				}
				return a.print(answer, func(w io.Writer) {
					for _, revision := range answer.GetRevisions() {
						fmt.Fprintf(w, "%s: %s\n", whereOf(revision), revision.GetReason())
						writeRevision(w, revision)
					}
					fmt.Fprintln(w, counted(int(answer.GetTotal()), "entry", "entries"))
				})
			})
		},
	}
	cmd.Flags().Uint32VarP(&req.Limit, "limit", "n", 100, "show at most so many")
	return cmd
}

// whereOf is what an entry is on: a record, who belongs to the staff and may what, or how its
// laptop writes.
func whereOf(revision *v1.Revision) string {
	if revision.GetControl() {
		return "the staff"
	}
	return cmp.Or(revision.GetTitle(), "the laptop")
}
