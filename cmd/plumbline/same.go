package main

import (
	"context"
	"io"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) same() *cobra.Command {
	req := &v1.SameRequest{}
	cmd := &cobra.Command{
		Use: "same RECORD RECORD", Short: "Say that two records are, or are not, the same",
		Long: `Say that two records are, or are not, the same. Where somebody said otherwise
before, that is shown with its ids and nothing is changed until --seen names them.

Once joined, both names find one record. To split it again, name the two ids after
"joined from" in "plumbline show", or how they begin.`,
		Example: `  plumbline same "Orrin Vale" "Orin Vale"
  plumbline same "Orrin Vale" "Orin Vale" --apart
  plumbline same 3f…a1 3f…c7 --apart`,
		Args: cobra.ExactArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			req.First, req.Second = args[0], args[1]
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				answer, err := c.Ledger.Same(ctx, req)
				if err != nil {
					return err
				}
				return a.print(answer, func(w io.Writer) { writeRecord(w, answer.GetRecord(), false) })
			})
		},
	}
	cmd.Flags().StringSliceVar(&req.Seen, "seen", nil, "ids of what was said of them before, that you saw and replace")
	cmd.Flags().BoolVar(&req.Apart, "apart", false, "they are not the same: keep them apart, or split them again")
	return cmd
}
