package main

import (
	"context"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) promote() *cobra.Command {
	return &cobra.Command{
		Use: "promote PERSON|DEVICE", Short: "Give a laptop, or all of a person's, a director's rights", Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				answer, err := c.Staff.Promote(ctx, &v1.PromoteRequest{Who: args[0]})
				if err != nil {
					return err
				}
				return a.print(answer, func(w io.Writer) { writeDevices(w, answer.GetDevices(), "director") })
			})
		},
	}
}

func writeDevices(w io.Writer, devices []string, now string) {
	for _, device := range devices {
		fmt.Fprintf(w, "%s: %s\n", device, now)
	}
}
