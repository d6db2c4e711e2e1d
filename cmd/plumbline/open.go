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
	var printed bool
	cmd := &cobra.Command{
		Use: "open", Short: "Open the running node's page in the browser",
		Long: `Open the running node's page in the browser. The address works once: whoever opens
it first is let in, and stays in.`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			s := a.running(cmd.Context())
			if s == nil {
				return errNotRunning
			}
			return errors.Join(a.openOf(cmd.Context(), s.client, printed), s.close())
		},
	}
	cmd.Flags().BoolVar(&printed, "print", false, "print the address, open nothing")
	return cmd
}

func (a *app) openOf(ctx context.Context, client *rpc.Client, printed bool) error {
	address, err := client.Launch(ctx)
	if err != nil {
		return err
	}
	if !printed {
		return browse(ctx, address)
	}
	if a.json {
		return a.printPlain(map[string]string{"page": address})
	}
	_, err = fmt.Fprintln(a.out, address)
	return err
}

// browse hands an address to the system's browser.
func browse(ctx context.Context, address string) error {
	command := []string{"xdg-open"}
	switch runtime.GOOS {
	case "darwin":
		command = []string{"open"}
	case "windows":
		command = []string{"rundll32", "url.dll,FileProtocolHandler"}
	}
	if err := exec.CommandContext(ctx, command[0], append(command[1:], address)...).Run(); err != nil {
		return fmt.Errorf("the browser can't be opened from here (%w): \"plumbline open --print\" prints the address", err)
	}
	return nil
}
