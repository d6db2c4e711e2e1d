package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"plumbline/node"
	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

const rightsFlag = "rights"

func (a *app) accept() *cobra.Command {
	req := &v1.AcceptRequest{}
	var sure bool
	cmd := &cobra.Command{
		Use: "accept PERSON|DEVICE", Short: "Let count what a laptop wrote after its standing ended",
		Long: `Let what a laptop wrote after its standing ended count, and list it: as much as this
laptop holds as it reads it, or with --as-of what plumbline aside --json has listed.
What comes in later still counts nowhere.

That is its work alone. Where the laptop also let somebody in, gave or ended rights,
changed the link key or erased something, this says what would come into force with
it and leaves it set aside; --rights lets it come into force too, and asks first at a
terminal, unless --yes is given.

--dry-run shows what would count and does nothing; --as-of with the text that it ends
in lets just that count.`,
		Example: `  plumbline accept "Tobin Ash" --dry-run
  plumbline accept "Tobin Ash"`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			req.Who = args[0]
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error { return a.acceptListed(ctx, c, req, sure) })
		},
	}
	cmd.Flags().BoolVar(&req.DryRun, "dry-run", false, "show what would count, and do nothing")
	cmd.Flags().BoolVar(&req.Rights, rightsFlag, false, "let rights come into force too that it gave or ended")
	cmd.Flags().BoolVar(&sure, "yes", false, "don't ask first")
	cmd.Flags().StringVar(&req.AsOf, asOfFlag, "", "what of it you read, as --dry-run and aside --json say")
	return cmd
}

func (a *app) acceptListed(ctx context.Context, c *rpc.Client, req *v1.AcceptRequest, sure bool) error {
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
	if req.GetRights() && !req.GetDryRun() && !sure && isTerminal(a.in) {
		if err := a.confirmRights(ctx, c, req); err != nil {
			return asTyped(err)
		}
	}
	answer, err := c.Staff.Accept(ctx, req)
	if errors.Is(rpc.Err(err), node.ErrUnasked) {
		return &advice{rpc.Err(err), rpc.Err(err).Error() + ":\n  " + a.command("accept", req.GetWho(), "--"+rightsFlag, "--"+asOfFlag, req.GetAsOf())}
	}
	if err != nil {
		return asTyped(err)
	}
	return a.print(answer, func(w io.Writer) { a.writeAccepted(w, roster, req, answer, listed) })
}

// confirmRights asks before rights come into force: what was given can be ended again,
// what was ended only given anew.
func (a *app) confirmRights(ctx context.Context, c *rpc.Client, req *v1.AcceptRequest) error {
	would, err := c.Staff.Accept(ctx, &v1.AcceptRequest{Who: req.GetWho(), AsOf: req.GetAsOf(), Rights: true, DryRun: true})
	if err != nil || len(would.GetRights()) == 0 {
		return err
	}
	return a.confirm(ctx, "This comes into force with it: "+strings.Join(would.GetRights(), "; ")+". Type yes")
}

// writeAccepted lists what counts, or would, and what comes into force with it, or would.
func (a *app) writeAccepted(w io.Writer, roster *v1.RosterResponse, req *v1.AcceptRequest, answer *v1.AcceptResponse, listed []*v1.Revision) {
	now, force := "accepted", "in force now, on every laptop:"
	if req.GetDryRun() {
		now, force = "would be accepted", "this would come into force, on every laptop:"
	}
	writeDevices(w, roster, answer.GetDevices(), now)
	for _, revision := range listed {
		if (!revision.GetControl() || req.GetRights()) && slices.Contains(answer.GetDevices(), revision.GetDevice()) {
			fmt.Fprintln(w, whereOf(revision))
			writeRevision(w, revision)
		}
	}
	again := []string{"accept", req.GetWho(), "--" + asOfFlag, req.GetAsOf()}
	withRights := slices.Insert(slices.Clone(again), 2, "--"+rightsFlag)
	if len(answer.GetRights()) > 0 {
		if !req.GetRights() {
			force = "left set aside, since it decides who may what:"
		}
		fmt.Fprintf(w, "\n%s\n", force)
		for _, right := range answer.GetRights() {
			fmt.Fprintf(w, "  %s\n", right)
		}
		if !req.GetRights() {
			fmt.Fprintf(w, "to let that come into force too:\n  %s\n", a.command(withRights...))
		}
	}
	if !req.GetDryRun() || len(answer.GetDevices()) == 0 {
		return
	}
	if req.GetRights() {
		again = withRights
	}
	fmt.Fprintf(w, "\nto let just this count:\n%s\n", a.command(again...))
}
