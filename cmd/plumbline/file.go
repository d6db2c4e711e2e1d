package main

import (
	"context"
	"io"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) file() *cobra.Command {
	req := &v1.FileRequest{}
	cmd := &cobra.Command{
		Use: "file EVALUATION", Short: "File an evaluation: later changes are revisions", Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			req.Evaluation = args[0]
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				answer, err := c.Ledger.File(ctx, req)
				if err != nil {
					return err
				}
				return a.print(answer, func(w io.Writer) { writeRecord(w, answer.GetRecord(), false) })
			})
		},
	}
	cmd.Flags().StringSliceVar(&req.Seen, "seen", nil, "ids of the days of filing that you saw and replace")
	return cmd
}
