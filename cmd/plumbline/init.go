package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"math/big"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) init() *cobra.Command {
	req := &v1.FoundRequest{}
	var rootFile string
	cmd := &cobra.Command{
		Use: "init", Short: "Found a staff on this laptop",
		Long: `Found a staff. It makes the staff's root, which is what a staff is recovered with
when its only director's laptop is lost. The root is shown once and kept nowhere:
write it on paper. --root-file writes it to a file instead, to be printed and
deleted.`,
		Example: `  plumbline init --staff "Harrow County" --person "Mara Quill"`,
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if rootFile == "" && !a.json && !isTerminal(a.in) {
				return usagef("nobody is here to write the root on paper: name a new file for it with --root-file")
			}
			var err error
			if req.Staff, err = a.need(cmd.Context(), req.GetStaff(), "staff", "The staff's name"); err != nil {
				return err
			}
			if req.Person, err = a.need(cmd.Context(), req.GetPerson(), "person", "Your name"); err != nil {
				return err
			}
			return a.begin(cmd.Context(), func(ctx context.Context, c *rpc.Client) error { return a.found(ctx, c, req, rootFile) })
		},
	}
	flags := cmd.Flags()
	flags.StringVar(&req.Staff, "staff", "", "the staff's name")
	flags.StringVar(&req.Person, "person", "", "your name")
	flags.StringVar(&req.Device, "device", "", "this laptop's name (default the computer's)")
	flags.StringVar(&rootFile, "root-file", "", "new file to write the root to")
	return cmd
}

// found opens the root's file first: a root that nothing can hold would be lost.
func (a *app) found(ctx context.Context, c *rpc.Client, req *v1.FoundRequest, rootFile string) error {
	if rootFile == "" {
		answer, err := c.Staff.Found(ctx, req)
		if err != nil {
			return err
		}
		if a.json {
			return a.printJSON(answer, "  ")
		}
		return a.confirmRoot(ctx, answer.GetRoot())
	}
	file, err := os.OpenFile(rootFile, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return fmt.Errorf("the file for the root: %w; name a new one", err)
	}
	answer, err := c.Staff.Found(ctx, req)
	if err != nil {
		return errors.Join(err, file.Close(), os.Remove(rootFile))
	}
	_, err = fmt.Fprintln(file, answer.GetRoot())
	if err := errors.Join(err, file.Sync(), file.Close()); err != nil {
		return fmt.Errorf("the staff is founded, but its root couldn't be written: %w; copy it from here: %s", err, answer.GetRoot())
	}
	answer.Root = ""
	return a.print(answer, func(w io.Writer) {
		fmt.Fprintf(w, "The staff %s is founded. Its root is in %s: print it, keep the paper, delete the file.\n", req.GetStaff(), rootFile)
	})
}

// wipeScreen takes the root off a terminal, and out of what it keeps of lines
// that have gone by: whoever sits there next would read it.
func (a *app) wipeScreen(says string) error {
	if isTerminal(a.out) {
		const clear = "\x1b[2J\x1b[3J\x1b[H"
		fmt.Fprint(a.out, clear)
	}
	_, err := fmt.Fprintln(a.out, says+" See that the root is on no screen any more: clear this one, with what it has scrolled by.")
	return err
}

// confirmRoot shows the root and asks for one group of it, so that nobody clicks
// it away unread.
func (a *app) confirmRoot(ctx context.Context, root string) error {
	groups := strings.FieldsFunc(root, func(r rune) bool { return r == ' ' || r == '-' || r == '\n' })
	if len(groups) == 0 {
		return errors.New("the node gave no root: this is a mistake in the program, delete both folders and start again")
	}
	fmt.Fprintf(a.out, "The staff's root. Write it on paper now; it is shown once and kept nowhere:\n\n")
	for i, group := range groups {
		fmt.Fprintf(a.out, "  %2d  %s\n", i+1, group)
	}
	fmt.Fprintln(a.out)
	asked, err := rand.Int(rand.Reader, big.NewInt(int64(len(groups))))
	if err != nil {
		return fmt.Errorf("choosing a group: %w", err)
	}
	for {
		typed, err := a.ask(ctx, fmt.Sprintf("Type group %d from your paper", asked.Int64()+1))
		if err != nil {
			return fmt.Errorf("the staff is founded, but the root wasn't typed back: see that it is on paper: %w", err)
		}
		if strings.EqualFold(typed, groups[asked.Int64()]) {
			return a.wipeScreen("The staff is founded.")
		}
		fmt.Fprintln(a.out, "That isn't it: compare your paper with the screen.")
	}
}
