package main

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"slices"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) accept() *cobra.Command {
	req := &v1.AcceptRequest{}
	cmd := &cobra.Command{
		Use: "accept PERSON|DEVICE", Short: "Let count what a laptop wrote after its standing ended",
		Long: `Let what a laptop wrote after its standing ended count, and list it: as much as this
laptop holds as it reads it, or with --as-of what plumbline aside --json has listed.
What comes in later still counts nowhere.

--dry-run shows what would count and does nothing; --as-of with the text that it ends
in lets just that count.`,
		Example: `  plumbline accept "Tobin Ash" --dry-run
  plumbline accept "Tobin Ash"`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			req.Who = args[0]
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error { return a.acceptListed(ctx, c, req) })
		},
	}
	cmd.Flags().BoolVar(&req.DryRun, "dry-run", false, "show what would count, and do nothing")
	cmd.Flags().StringVar(&req.AsOf, asOfFlag, "", "what of it you read, as --dry-run and aside --json say")
	return cmd
}

func (a *app) acceptListed(ctx context.Context, c *rpc.Client, req *v1.AcceptRequest) error {
	roster, err := c.Staff.Roster(ctx, &v1.RosterRequest{})
	if err != nil {
		return err
	}
	var listed []*v1.Revision
	if req.GetAsOf() == "" {
		aside, err := c.Ledger.SetAside(ctx, &v1.SetAsideRequest{})
		if err != nil {
			return err
		}
		listed, req.AsOf = aside.GetRevisions(), aside.GetAsOf()
	}
	answer, err := c.Staff.Accept(ctx, req)
	if err != nil {
		return asTyped(err)
	}
	now := "accepted"
	if req.GetDryRun() {
		now = "would be accepted"
	}
	return a.print(answer, func(w io.Writer) {
		writeDevices(w, roster, answer.GetDevices(), now)
		for _, revision := range listed {
			if slices.Contains(answer.GetDevices(), revision.GetDevice()) {
				fmt.Fprintln(w, cmp.Or(revision.GetTitle(), "control"))
				writeRevision(w, revision)
			}
		}
		if req.GetDryRun() {
			fmt.Fprintf(w, "\nto let just this count:\n%s\n", a.command("accept", req.GetWho(), "--"+asOfFlag, req.GetAsOf()))
		}
	})
}
