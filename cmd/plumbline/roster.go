package main

import (
	"context"
	"io"

	"github.com/spf13/cobra"

	"plumbline/node"
	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) roster() *cobra.Command {
	return &cobra.Command{
		Use: "roster", Short: "List the staff's people and laptops", Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				answer, err := c.Staff.Roster(ctx, &v1.RosterRequest{})
				if err != nil {
					return err
				}
				if len(answer.GetMembers()) == 0 {
					return &advice{node.ErrNoStaff, node.NoStaff(a.data)}
				}
				return a.print(answer, func(w io.Writer) {
					rows := [][]string{{"person", "laptop", "role", "", "device"}}
					for _, m := range answer.GetMembers() {
						revoked := ""
						if m.GetRevoked() {
							revoked = "revoked"
						}
						rows = append(rows, []string{m.GetPersonName(), m.GetDeviceName(), m.GetRole(), revoked, m.GetDevice()})
					}
					table(w, "", rows)
				})
			})
		},
	}
}
