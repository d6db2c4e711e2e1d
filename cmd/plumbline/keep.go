package main

import (
	"context"
	"io"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) keep() *cobra.Command {
	req := &v1.KeepRequest{}
	cmd := &cobra.Command{
		Use: "keep RECORD", Short: "Answer a retirement: the record stays",
		Long: `Answer the retirements of a record that you have read of: it stays. Without --as-of
these are all that this laptop holds as it reads the record.`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				have, err := c.Ledger.Get(ctx, &v1.GetRequest{Record: args[0]})
				if err != nil {
					return err
				}
				if req.Record = have.GetRecord().GetId(); req.GetAsOf() == "" {
					req.AsOf = have.GetAsOf()
				}
				answer, err := c.Ledger.Keep(ctx, req)
				if err != nil {
					return asTyped(err)
				}
				return a.print(answer, func(w io.Writer) { writeNamed(w, answer.GetRecord()) })
			})
		},
	}
	cmd.Flags().StringVar(&req.AsOf, asOfFlag, "", "up to where you read it, as retire --dry-run and show --json say")
	return cmd
}
