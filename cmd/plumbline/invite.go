package main

import (
	"context"
	"errors"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) invite() *cobra.Command {
	req := &v1.InviteRequest{}
	cmd := &cobra.Command{
		Use: "invite PERSON", Short: "Let one laptop join the staff, face to face",
		Long: `Let one laptop join, face to face. It prints addresses and a word, which the other
laptop's owner gives to "plumbline join"; then each screen shows a code, which is
typed on the other one. The codes needn't be kept secret. A script gives the code
on standard input.`,
		Example: `  plumbline invite "Tobin Ash" --title area_scout`,
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			req.Person = args[0]
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error { return a.inviteOne(ctx, c, req) })
		},
	}
	cmd.Flags().StringVar(&req.Title, "title", "", "the person's title, such as area_scout")
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
	p := &pairing[*v1.InviteResponse]{app: a, client: c, stream: stream, show: a.showInvite}
	return p.follow(ctx, cancel)
}

func (a *app) showInvite(s *v1.InviteResponse) error {
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
		return errors.Join(err, a.advise("on the other laptop: plumbline join ADDRESS %s", s.GetWord()))
	case "code":
		return a.line("code", s.GetCode())
	case "done":
		return errors.Join(a.line("person", s.GetPerson()), a.line("device", s.GetDevice()),
			a.advise("%s has joined, on one more laptop of the staff", s.GetPersonName()))
	}
	return nil
}
