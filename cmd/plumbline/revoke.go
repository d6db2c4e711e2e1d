package main

import (
	"context"
	"io"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) revoke() *cobra.Command {
	req := &v1.RevokeRequest{}
	cmd := &cobra.Command{
		Use: "revoke PERSON|DEVICE", Short: "End the standing of a laptop, or of all of a person's",
		Long: `End a laptop's standing as of what this laptop holds of it. What it wrote until then
stays; what it writes later is set aside. Laptops that haven't heard of it yet go
on linking with it until they do, and it keeps what it holds: encrypt your disks.`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			req.Who = args[0]
			now := "revoked"
			if req.GetDemote() {
				now = "scout"
			}
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				answer, err := c.Staff.Revoke(ctx, req)
				if err != nil {
					return err
				}
				return a.print(answer, func(w io.Writer) { writeDevices(w, answer.GetDevices(), now) })
			})
		},
	}
	cmd.Flags().BoolVar(&req.Demote, "demote", false, "leave a scout's rights")
	return cmd
}
