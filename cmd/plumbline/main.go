// Command plumbline keeps a scouting staff's records on every laptop of the
// staff, and is the command line to them.
//
// Start at [Run] and app.go, which lists the commands; each stands in a file of
// its own name. session.go is how a command reaches the records: through the
// running node, or by opening the folder itself through the same handlers.
// exit.go has the exit codes. Nothing here decides anything about records: what
// a command does, the node does.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"

	"plumbline/node/plain"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // a second Ctrl-C ends at once
	err := Run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
	os.Exit(report(err, os.Stderr))
}

// Run carries out one command line. It prints answers, not errors.
func Run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) error {
	a := &app{in: stdin, out: stdout, err: stderr}
	root := a.root()
	root.SetArgs(args)
	root.SetIn(stdin)
	root.SetOut(stdout)
	root.SetErr(stderr)
	cmd, err := root.ExecuteContextC(ctx)
	err = plain.Words(err)
	if cause, ok := plain.Cause(err); ok && a.verbose {
		fmt.Fprintf(stderr, "cause: %s\n", cause)
	}
	if err != nil {
		err = &advice{err, a.here(err.Error())}
	}
	var wrong usage
	// What fails before a command starts is the command line itself.
	if err != nil && (!a.started || errors.As(err, &wrong)) {
		if strings.HasSuffix(err.Error(), "?") {
			return usage{fmt.Errorf("%w See %s --help", err, cmd.CommandPath())}
		}
		return usage{fmt.Errorf("%w; see %s --help", err, cmd.CommandPath())}
	}
	return err
}

// report prints an error and gives its exit code.
func report(err error, stderr io.Writer) int {
	code := exitCode(err)
	switch code {
	case exitDone:
	case exitInterrupted:
		fmt.Fprintln(stderr, "plumbline: interrupted")
	default:
		fmt.Fprintf(stderr, "plumbline: %v\n", err)
	}
	return code
}
