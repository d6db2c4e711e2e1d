package main

import (
	"context"
	"errors"
	"fmt"
	"os/exec"
	"runtime"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
)

// errNotRunning is returned when a page is to be opened that nobody serves.
var errNotRunning = fmt.Errorf("%w: no node runs on this data folder; start one with \"plumbline run\"", rpc.ErrUnreachable)

func (a *app) openPage() *cobra.Command {
	var printed, alone bool
	cmd := &cobra.Command{
		Use: "open", Short: "Open the running node's page in the browser",
		Long: `Open the running node's page in the browser. The address works once: whoever opens
it first is let in, and stays in. --alone first lets out every browser that was let
in before, and every address that is not used yet.`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			s := a.running(cmd.Context())
			if s == nil {
				return errNotRunning
			}
			var err error
			if alone {
				err = s.client.EndSessions(cmd.Context())
			}
			if err == nil {
				err = a.openOf(cmd.Context(), s.client, printed)
			}
			return errors.Join(err, s.close())
		},
	}
	cmd.Flags().BoolVar(&alone, "alone", false, "let out every browser that was let in before")
	cmd.Flags().BoolVar(&printed, "print", false, "print the address, open nothing")
	return cmd
}

func (a *app) openOf(ctx context.Context, client *rpc.Client, printed bool) error {
	address, err := client.Launch(ctx)
	if err != nil {
		return err
	}
	if !printed {
		if err := a.browse(ctx, address); err != nil || a.json {
			return err
		}
		_, err = fmt.Fprintln(a.out, a.here("The browser opens it. Should it show nothing, \"plumbline open --print\" prints the address."))
		return err
	}
	if a.json {
		return a.printPlain(map[string]string{"page": address})
	}
	_, err = fmt.Fprintln(a.out, address)
	return err
}

// browse hands the system's browser a file that leads on to an address. Some
// browsers are shut out from the folder it lies in, and say so in their own way.
func (a *app) browse(ctx context.Context, address string) error {
	file, err := rpc.HandOver(a.state, address)
	if err != nil {
		return err
	}
	command := []string{"xdg-open"}
	switch runtime.GOOS {
	case "darwin":
		command = []string{"open"}
	case "windows":
		command = []string{"rundll32", "url.dll,FileProtocolHandler"}
	}
	if err := exec.CommandContext(ctx, command[0], append(command[1:], file)...).Run(); err != nil {
		return fmt.Errorf("the browser can't be opened from here (%w): \"plumbline open --print\" prints the address", err)
	}
	return nil
}
