package main

import (
	"context"
	"io"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) keep() *cobra.Command {
	return &cobra.Command{
		Use: "keep RECORD", Short: "Answer a retirement: the record stays", Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				answer, err := c.Ledger.Keep(ctx, &v1.KeepRequest{Record: args[0]})
				if err != nil {
					return err
				}
				return a.print(answer, func(w io.Writer) { writeNamed(w, answer.GetRecord()) })
			})
		},
	}
}
