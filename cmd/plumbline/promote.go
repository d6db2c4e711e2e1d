package main

import (
	"context"
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
				roster, err := c.Staff.Roster(ctx, &v1.RosterRequest{})
				if err != nil {
					return err
				}
				return a.print(answer, func(w io.Writer) { writeDevices(w, roster, answer.GetDevices(), "director") })
			})
		},
	}
}

// writeDevices says what laptops are now, by the names that the roster has.
func writeDevices(w io.Writer, roster *v1.RosterResponse, devices []string, now string) {
	rows := make([][]string, 0, len(devices))
	for _, device := range devices {
		row := []string{"", "", now, device}
		for _, m := range roster.GetMembers() {
			if m.GetDevice() == device {
				row[0], row[1] = m.GetPersonName(), m.GetDeviceName()
			}
		}
		rows = append(rows, row)
	}
	table(w, "", rows)
}
