package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) addRecord() *cobra.Command {
	return &cobra.Command{
		Use: "add KIND field=value…", Short: "Add a record and print its id",
		Long: `Add a record and print its id. "plumbline fields KIND" lists what its fields are
called, and what each takes.`,
		Example: `  plumbline add prospect name="Orrin Vale" position=tackle school="North Fork" class_year=2027
  plumbline add evaluation prospect="Orrin Vale" grades.hand_use=6 summary=@summary.txt`,
		Args:              cobra.MinimumNArgs(2),
		ValidArgsFunction: completeAdd,
		RunE: func(cmd *cobra.Command, args []string) error {
			sets, err := a.readSets(args[1:])
			if err != nil {
				return err
			}
			req := &v1.WriteRequest{Writes: []*v1.Write{{Kind: args[0], Sets: sets}}}
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				grades, err := ungoverned(ctx, c, sets)
				if err != nil {
					return err
				}
				answer, err := c.Ledger.Write(ctx, req)
				if err != nil {
					return err
				}
				return errors.Join(a.warnOfSlips(grades), a.print(answer, func(w io.Writer) {
					for _, id := range answer.GetRecords() {
						fmt.Fprintln(w, id)
					}
				}))
			})
		},
	}
}
