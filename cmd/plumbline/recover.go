package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"

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
pairs, asks for the root as it stands on paper, one group or several to a line, says
in which group a slip is, becomes a director's and takes over what the staff holds. Then the director's lost laptops are cut, and
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
			return a.begin(cmd.Context(), func(ctx context.Context, c *rpc.Client) error { return a.recoverStaff(ctx, c, req, rootFile) })
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

// typeRoot asks for the root as it stands on paper. What can't be right is said at
// once, group by group; where they don't fit together, which group it is, as far as
// that can be told. Only that one is typed again.
func (a *app) typeRoot(ctx context.Context, s *v1.RecoverResponse) ([]byte, error) {
	fmt.Fprintf(a.err, "The root of %s, from your paper: %d groups of letters, one or several to a line, in capitals or not.\n"+
		"To type one again, put its number before it, as in 3 ABCD.\n", s.GetStaffName(), rootkey.Count)
	var typed rootkey.Typed
	defer typed.Clear()
	for {
		question := "Number of the group to type again, and the group"
		if next := typed.Next(); next > 0 {
			question = fmt.Sprintf("Group %d of %d", next, rootkey.Count)
		}
		line, err := a.ask(ctx, question)
		if err != nil {
			return nil, err
		}
		wrong := typed.Add([]byte(line))
		for _, says := range wrong {
			fmt.Fprintf(a.err, "%s.\n", says)
		}
		if unused := typed.Unused(); unused > 0 {
			fmt.Fprintf(a.err, "Not used: %s behind it, of which the root has some already. To type one again, put its number before it.\n", counted(unused, "group", "groups"))
		}
		if len(wrong) > 0 || typed.Next() > 0 {
			continue
		}
		root := typed.Root()
		seed, err := rootkey.Parse(root)
		if err == nil {
			clear(seed)
			return root, a.wipeScreen("The root is typed.")
		}
		clear(root)
		a.showSlip(&typed)
	}
}

// showSlip shows what was typed, as it stands on the paper, and which group of it is
// to be looked at.
func (a *app) showSlip(typed *rootkey.Typed) {
	fmt.Fprintln(a.err, "This isn't the root. You typed:")
	doubtful := typed.Doubtful()
	for number := range rootkey.Count {
		mark := ""
		if number+1 == doubtful {
			mark = "   doesn't fit the others"
		}
		fmt.Fprintf(a.err, "  %2d  %s%s\n", number+1, typed.Group(number+1), mark)
	}
	if doubtful == 0 {
		fmt.Fprintln(a.err, "More than one group is wrong: compare them with the paper, letter by letter.")
		return
	}
	fmt.Fprintf(a.err, "Compare group %d with the paper, letter by letter.\n", doubtful)
	typed.Again(doubtful)
}
