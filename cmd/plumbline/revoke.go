package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) revoke() *cobra.Command {
	req := &v1.RevokeRequest{}
	var sure bool
	cmd := &cobra.Command{
		Use: "revoke PERSON|DEVICE", Short: "End the standing of a laptop, or of all of a person's",
		Long: `End a laptop's standing as of what this laptop holds of it. What it wrote until then
stays; what it writes later is set aside. That can't be taken back: only a new
invitation lets the person in again. The link key changes with it, and travels to
the laptops that stay as they meet. Laptops that haven't heard of it yet go on
linking with the revoked one until they do, and it keeps what it holds: encrypt
your disks.

At a terminal it asks before it acts, unless --yes is given.`,
		Example: `  plumbline revoke "Tobin Ash"
  plumbline revoke "Tobin Ash" --demote`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			req.Who = args[0]
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error { return a.revokeSurely(ctx, c, req, sure) })
		},
	}
	cmd.Flags().BoolVar(&req.Demote, "demote", false, "leave a scout's rights")
	cmd.Flags().BoolVar(&sure, "yes", false, "don't ask first")
	return cmd
}

func (a *app) revokeSurely(ctx context.Context, c *rpc.Client, req *v1.RevokeRequest, sure bool) error {
	roster, err := c.Staff.Roster(ctx, &v1.RosterRequest{})
	if err != nil {
		return err
	}
	if !sure && isTerminal(a.in) {
		if err := a.confirm(ctx, revocation(roster, req)); err != nil {
			return err
		}
	}
	answer, err := c.Staff.Revoke(ctx, req)
	if err != nil {
		return err
	}
	now := "revoked"
	if req.GetDemote() {
		now = "scout"
	}
	return a.print(answer, func(w io.Writer) { writeDevices(w, roster, answer.GetDevices(), now) })
}

// revocation words what is about to be done. Whether the name fits at all is the
// node's to say.
func revocation(roster *v1.RosterResponse, req *v1.RevokeRequest) string {
	persons, laptops := map[string]bool{}, 0
	name := func(fits func(*v1.Member) bool) {
		for _, m := range roster.GetMembers() {
			if !m.GetRevoked() && fits(m) {
				persons[m.GetPersonName()] = true
				laptops++
			}
		}
	}
	who := req.GetWho()
	name(func(m *v1.Member) bool { return strings.EqualFold(m.GetPersonName(), who) || m.GetPerson() == who })
	if laptops == 0 {
		name(func(m *v1.Member) bool { return strings.EqualFold(m.GetDeviceName(), who) || m.GetDevice() == who })
	}
	whose := who
	if len(persons) == 1 {
		for person := range persons {
			whose = fmt.Sprintf("%s's %s", person, counted(laptops, "laptop", "laptops"))
		}
	}
	if req.GetDemote() {
		return fmt.Sprintf("Leave %s a scout's rights only: what a director alone may write counts nowhere from now on. Type yes", whose)
	}
	pronoun := "its"
	if laptops > 1 {
		pronoun = "their"
	}
	return fmt.Sprintf("Revoke %s: %s later work counts nowhere, and that can't be taken back, only a new invitation. Type yes", whose, pronoun)
}

// errNotDone is returned when a person thinks better of it.
var errNotDone = errors.New("nothing was done")

// confirm asks before something that can't be taken back.
func (a *app) confirm(ctx context.Context, question string) error {
	typed, err := a.ask(ctx, question)
	if err == nil && !strings.EqualFold(typed, "yes") {
		err = errNotDone
	}
	return err
}
