package main

import (
	"context"
	"errors"
	"strings"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) invite() *cobra.Command {
	req := &v1.InviteRequest{}
	cmd := &cobra.Command{
		Use: "invite [PERSON]", Short: "Let one laptop join the staff, face to face",
		Long: `Let one laptop join, face to face. It prints addresses and a word, which the other
laptop's owner gives to "plumbline join"; then each screen shows a code, which is
typed on the other one. The codes needn't be kept secret. A script gives the code
on standard input.

With --recovery no person is named: the other laptop runs "plumbline recover" with
the staff's root. Any laptop of the staff may do this, a scout's as well.`,
		Example: `  plumbline invite "Tobin Ash" --title area_scout
  plumbline invite --recovery`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if req.GetRecovery() != (len(args) == 0) || req.GetRecovery() && (req.GetDirector() || req.GetTitle() != "") {
				return usagef("name the person who is to join, or give --recovery alone")
			}
			req.Person = strings.Join(args, "")
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error { return a.inviteOne(ctx, c, req) })
		},
	}
	cmd.Flags().StringVar(&req.Title, "title", "", "the person's title, such as area_scout")
	cmd.Flags().BoolVar(&req.Recovery, "recovery", false, "let in whoever has the staff's root")
	cmd.Flags().BoolVar(&req.Director, "director", false, "give a director's rights")
	return cmd
}

func (a *app) inviteOne(ctx context.Context, c *rpc.Client, req *v1.InviteRequest) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	stream, err := c.Staff.Invite(ctx, req)
	if err != nil {
		return err
	}
	p := &pairing[*v1.InviteResponse]{app: a, client: c, stream: stream, show: func(s *v1.InviteResponse) error { return a.showInvite(s, req.GetRecovery()) }}
	return p.follow(ctx, cancel)
}

func (a *app) showInvite(s *v1.InviteResponse, recovery bool) error {
	if a.json {
		return a.printJSON(s, "")
	}
	switch s.GetStep() {
	case "waiting":
		var err error
		for _, address := range s.GetAddresses() {
			err = errors.Join(err, a.line("address", address))
		}
		err = errors.Join(err, a.line("word", s.GetWord()))
		there := "join"
		if recovery {
			there = "recover"
		}
		address := "ADDRESS" // on a network without any, the person has to know it
		if known := s.GetAddresses(); len(known) > 0 {
			address = known[0]
		}
		return errors.Join(err, a.advise("on the other laptop: plumbline %s %s %s", there, quoted(address), s.GetWord()))
	case "code":
		return a.line("code", s.GetCode())
	case "done":
		return errors.Join(a.line("person", s.GetPerson()), a.line("device", s.GetDevice()),
			a.advise("%s has joined, on one more laptop of the staff", s.GetPersonName()))
	}
	return nil
}
