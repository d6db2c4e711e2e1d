package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"strconv"

	"github.com/spf13/cobra"

	"plumbline/node"
	"plumbline/node/rootkey"
	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) recover() *cobra.Command {
	req := &v1.RecoverRequest{}
	var rootFile string
	cmd := &cobra.Command{
		Use: "recover ADDRESS WORD", Short: "Recover the staff from its root on a new laptop",
		Long: `Recover the staff when its only director's laptop is lost. On any laptop of the staff,
"plumbline invite --recovery" shows an address and a word. With them this new laptop
pairs, asks for the root, group by group as it stands on paper, becomes a director's
and takes over what the staff holds. Then the director's lost laptops are cut, and
the link key changes. The root is overwritten as soon as it has signed.

A script gives the code on standard input, and the root in a file or, with
--root-file -, as the next line there.`,
		Example: `  plumbline recover 192.168.4.20:47123 heron
  plumbline recover 192.168.4.20:47123 heron --person "Ira Quist" --lost "Mara Quill"`,
		Args: cobra.ExactArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			req.Address, req.Word = args[0], args[1]
			if rootFile == "" && !isTerminal(a.in) {
				return usagef("nobody is here to type the root: name its file with --root-file, or - for standard input")
			}
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error { return a.recoverStaff(ctx, c, req, rootFile) })
		},
	}
	flags := cmd.Flags()
	flags.StringVar(&req.Device, "device", "", "this laptop's name (default the computer's)")
	flags.StringVar(&req.Person, "person", "", "who you are (default the only director)")
	flags.StringArrayVar(&req.Lost, "lost", nil, "person or laptop to be cut (default your director's laptops)")
	flags.StringVar(&rootFile, "root-file", "", "file that holds the root, - for standard input")
	return cmd
}

func (a *app) recoverStaff(ctx context.Context, c *rpc.Client, req *v1.RecoverRequest, rootFile string) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	stream, err := c.Staff.Recover(ctx, req)
	if err != nil {
		return err
	}
	p := &pairing[*v1.RecoverResponse]{app: a, client: c, stream: stream, show: a.showRecovery}
	p.root = func(ctx context.Context, s *v1.RecoverResponse) error { return a.giveRoot(ctx, c, s, rootFile) }
	return p.follow(ctx, cancel)
}

func (a *app) showRecovery(s *v1.RecoverResponse) error {
	if a.json {
		return a.printJSON(s, "")
	}
	switch s.GetStep() {
	case "code":
		return a.line("code", s.GetCode())
	case "done":
		err := errors.Join(a.line("staff", s.GetStaff()), a.line("person", s.GetPerson()))
		for _, device := range s.GetDevices() {
			err = errors.Join(err, a.line("revoked", device))
		}
		told := "what was lost is cut and the link key changed"
		if len(s.GetDevices()) == 0 {
			told = "nothing was cut: plumbline revoke cuts what was lost"
		}
		return errors.Join(err, a.advise("this laptop is %s's, a director's of %s; %s", s.GetPersonName(), s.GetStaffName(), told))
	}
	return nil
}

// giveRoot answers the step that asks for the root. What a file holds isn't
// right the second time either.
func (a *app) giveRoot(ctx context.Context, c *rpc.Client, s *v1.RecoverResponse, file string) error {
	if s.GetWrong() != "" && file != "" {
		return &advice{node.ErrInvalid, s.GetWrong()}
	}
	if s.GetWrong() != "" {
		fmt.Fprintln(a.err, s.GetWrong())
	}
	root, err := a.readRoot(ctx, s, file)
	if err != nil {
		return err
	}
	defer clear(root)
	_, err = c.Staff.Root(ctx, &v1.RootRequest{Pairing: s.GetPairing(), Root: root})
	return err
}

func (a *app) readRoot(ctx context.Context, s *v1.RecoverResponse, file string) ([]byte, error) {
	switch file {
	case "":
		return a.typeRoot(ctx, s)
	case "-":
		line, err := a.ask(ctx, "The staff's root")
		return []byte(line), err
	}
	data, err := os.ReadFile(file)
	if err != nil {
		return nil, fmt.Errorf("the file with the root: %w", err)
	}
	return bytes.TrimSpace(data), nil
}

// typeRoot asks for the root as it stands on paper. A group that can't be right
// is asked for again at once; where they don't fit together, the one that the
// person finds by comparing what still stands on the screen.
func (a *app) typeRoot(ctx context.Context, s *v1.RecoverResponse) ([]byte, error) {
	fmt.Fprintf(a.err, "The root of %s, from your paper:\n", s.GetStaffName())
	var groups [rootkey.Count][]byte
	for i := range groups {
		if err := a.typeGroup(ctx, &groups, i+1); err != nil {
			return nil, err
		}
	}
	for {
		root := bytes.Join(groups[:], []byte(" "))
		seed, err := rootkey.Parse(root)
		if err == nil {
			clear(seed)
			return root, a.wipeScreen("The root is typed.")
		}
		clear(root)
		fmt.Fprintf(a.err, "%v.\n", err)
		typed, err := a.ask(ctx, fmt.Sprintf("Number of the group to type again, 1 to %d", rootkey.Count))
		if err != nil {
			return nil, err
		}
		if number, err := strconv.Atoi(typed); err == nil && number >= 1 && number <= rootkey.Count {
			if err := a.typeGroup(ctx, &groups, number); err != nil {
				return nil, err
			}
		}
	}
}

func (a *app) typeGroup(ctx context.Context, groups *[rootkey.Count][]byte, number int) error {
	for {
		typed, err := a.ask(ctx, fmt.Sprintf("Group %d of %d", number, rootkey.Count))
		if err != nil {
			return err
		}
		group := []byte(typed)
		wrong := rootkey.WrongGroup(number, group)
		if wrong == "" {
			clear(groups[number-1])
			groups[number-1] = group
			return nil
		}
		fmt.Fprintln(a.err, wrong+": type it again.")
	}
}
