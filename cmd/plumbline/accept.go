package main

import (
	"context"
	"io"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) accept() *cobra.Command {
	return &cobra.Command{
		Use: "accept PERSON|DEVICE", Short: "Let count what a laptop wrote after its standing ended",
		Long: `Let what a laptop wrote after its standing ended count, as far as this laptop holds
it: plumbline aside lists it. What it writes later still counts nowhere.`,
		Example: `  plumbline accept "Tobin Ash"`,
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				roster, err := c.Staff.Roster(ctx, &v1.RosterRequest{})
				if err != nil {
					return err
				}
				answer, err := c.Staff.Accept(ctx, &v1.AcceptRequest{Who: args[0]})
				if err != nil {
					return err
				}
				return a.print(answer, func(w io.Writer) { writeDevices(w, roster, answer.GetDevices(), "accepted") })
			})
		},
	}
}
