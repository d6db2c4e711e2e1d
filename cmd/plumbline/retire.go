package main

import (
	"context"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) retire() *cobra.Command {
	return &cobra.Command{
		Use: "retire RECORD", Short: "Hide a record as you have read it",
		Long: `Hide a record as you have read it. It comes back when someone had written to it
that you hadn't read, and nothing of it is destroyed.`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				answer, err := c.Ledger.Retire(ctx, &v1.RetireRequest{Record: args[0]})
				if err != nil {
					return err
				}
				return a.print(answer, func(w io.Writer) { writeNamed(w, answer.GetRecord()) })
			})
		},
	}
}

// writeNamed is the line that names a record.
func writeNamed(w io.Writer, record *v1.Record) {
	fmt.Fprintf(w, "%s (%s)%s\n", record.GetTitle(), record.GetKind(), marks(record))
}
