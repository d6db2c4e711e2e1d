package main

import (
	"context"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) connect() *cobra.Command {
	return &cobra.Command{
		Use: "connect ADDRESS", Short: "Turn to a laptop at an address (host:port) and remember it", Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				answer, err := c.Node.Connect(ctx, &v1.ConnectRequest{Address: args[0]})
				if err != nil {
					return err
				}
				return a.print(answer, func(w io.Writer) { fmt.Fprintln(w, "linked with", args[0]) })
			})
		},
	}
}
