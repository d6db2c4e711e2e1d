package main

import (
	"context"
	"errors"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) join() *cobra.Command {
	req := &v1.JoinRequest{}
	cmd := &cobra.Command{
		Use: "join ADDRESS WORD", Short: "Join the staff of a laptop that invites",
		Long: `Join the staff of a laptop that invites, face to face: with the address and the word
that it shows. Then each screen shows a code, which is typed on the other one.
A script gives the code on standard input.`,
		Example: `  plumbline join 192.168.4.20:47123 heron`,
		Args:    cobra.ExactArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			req.Address, req.Word = args[0], args[1]
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error { return a.joinStaff(ctx, c, req) })
		},
	}
	cmd.Flags().StringVar(&req.Device, "device", "", "this laptop's name (default the computer's)")
	return cmd
}

func (a *app) joinStaff(ctx context.Context, c *rpc.Client, req *v1.JoinRequest) error {
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
		return errors.Join(a.line("staff", s.GetStaff()), a.line("person", s.GetPerson()),
			a.advise("this laptop is %s's, of %s; plumbline run brings over what the staff holds", s.GetPersonName(), s.GetStaffName()))
	}
	return nil
}
