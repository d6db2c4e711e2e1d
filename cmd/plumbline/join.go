package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"plumbline/node"
	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) join() *cobra.Command {
	req := &v1.JoinRequest{}
	var sure bool
	cmd := &cobra.Command{
		Use: "join ADDRESS WORD", Short: "Join the staff of a laptop that invites",
		Long: `Join the staff of a laptop that invites, face to face: with the address and the word
that it shows. Then each screen shows a code, which is typed on the other one.
A script gives the code on standard input.

Who has written alone until now, as a staff of one, takes their records along, under
the same ids: it is said beforehand which. What only a director may write goes along
with a laptop that is let in as a director's. The ledger from before is kept as it
was, in a folder that is named. At a terminal join asks before it acts, unless --yes
is given.`,
		Example: `  plumbline join 192.168.4.20:47123 heron`,
		Args:    cobra.ExactArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			req.Address, req.Word = args[0], args[1]
			return a.begin(cmd.Context(), func(ctx context.Context, c *rpc.Client) error { return a.joinStaff(ctx, c, req, sure) })
		},
	}
	cmd.Flags().StringVar(&req.Device, "device", "", "this laptop's name (default the computer's)")
	cmd.Flags().BoolVar(&sure, "yes", false, "don't ask before records are taken along")
	return cmd
}

func (a *app) joinStaff(ctx context.Context, c *rpc.Client, req *v1.JoinRequest, sure bool) error {
	if err := a.takeAlong(ctx, c, req, sure); err != nil {
		return err
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	stream, err := c.Staff.Join(ctx, req)
	if err != nil {
		return err
	}
	p := &pairing[*v1.JoinResponse]{app: a, client: c, stream: stream, show: a.showJoin}
	return p.follow(ctx, cancel)
}

func (a *app) showJoin(s *v1.JoinResponse) error {
	if a.json {
		return a.printJSON(s, "")
	}
	switch s.GetStep() {
	case "code":
		return a.line("code", s.GetCode())
	case "done":
		return errors.Join(a.line("staff", s.GetStaff()), a.line("person", s.GetPerson()), a.showTaken(s.GetAlone()),
			a.advise("this laptop is %s's, of %s; plumbline run brings over what the staff holds", s.GetPersonName(), s.GetStaffName()))
	}
	return nil
}

// takeAlong tells what was written alone on this laptop, if it was, and lets it be
// taken along.
func (a *app) takeAlong(ctx context.Context, c *rpc.Client, req *v1.JoinRequest, sure bool) error {
	answer, err := c.Staff.Alone(ctx, &v1.AloneRequest{})
	if reason := rpc.Err(err); errors.Is(reason, node.ErrNoStaff) || errors.Is(reason, node.ErrHasStaff) || errors.Is(reason, node.ErrLost) {
		return nil // nothing was, and it joins as any other
	}
	if err != nil {
		return err
	}
	req.TakeAlong = true
	if a.json && sure {
		return nil
	}
	alone := answer.GetAlone()
	err = a.advise("What was written here alone goes along, under the same ids: %s.", amountsText(alone.GetTaken()))
	if len(alone.GetLeft()) > 0 {
		err = errors.Join(err, a.advise("Only with a director's rights in that staff: %s.", amountsText(alone.GetLeft())))
	}
	err = errors.Join(err, a.advise("The ledger as it is now stays readable in %s, named by --data.", alone.GetKept()))
	if err != nil || sure || !isTerminal(a.in) {
		return err
	}
	return a.confirm(ctx, "Join another staff with these records? Type yes")
}

// showTaken says what became of what was written alone.
func (a *app) showTaken(alone *v1.WrittenAlone) error {
	if alone == nil {
		return nil
	}
	err := a.line("taken along", amountsText(alone.GetTaken()))
	if len(alone.GetLeft()) > 0 {
		err = errors.Join(err, a.line("left", amountsText(alone.GetLeft())))
	}
	return errors.Join(err, a.line("kept", alone.GetKept()))
}

// amountsText counts records by kind, and says how many of them are retired.
func amountsText(amounts []*v1.Amount) string {
	var parts []string
	for _, amount := range amounts {
		kind, kinds := amount.GetKind(), amount.GetKind()+"s"
		if kind == "same_as" {
			kind, kinds = "pair that is one or apart", "pairs that are one or apart"
		}
		part := counted(int(amount.GetRecords()), kind, kinds)
		if amount.GetRetired() > 0 {
			part += fmt.Sprintf(" (%d retired)", amount.GetRetired())
		}
		parts = append(parts, part)
	}
	if len(parts) == 0 {
		return "no records"
	}
	return strings.Join(parts, ", ")
}
