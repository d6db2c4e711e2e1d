package main

import (
	"context"
	"errors"
	"fmt"

	"plumbline/node"
	"plumbline/node/rpc"
)

// The exit codes, for scripts. They are listed in the help of plumbline itself.
const (
	exitDone        = 0
	exitRefused     = 1   // refused or failed; nothing was saved
	exitUsage       = 2   // the command line is wrong
	exitNotFound    = 3   // a name fits nothing, or several things
	exitUnseen      = 4   // the field has values: name those that were seen, or settle them
	exitUnreachable = 5   // the data folder is in use, or the node doesn't answer
	exitInterrupted = 130 // by Ctrl-C, as shells have it
)

const exitHelp = `Exit codes: 0 done, 1 refused or failed, 2 wrong command line, 3 not found or
ambiguous, 4 the field has values that were not seen or are in conflict, 5 the
data folder is in use or the node doesn't answer, 130 interrupted.`

func exitCode(err error) int {
	is := func(targets ...error) bool {
		for _, target := range targets {
			if errors.Is(err, target) {
				return true
			}
		}
		return false
	}
	var wrong usage
	switch {
	case err == nil:
		return exitDone
	case errors.As(err, &wrong):
		return exitUsage
	case is(node.ErrNotFound, node.ErrAmbiguous):
		return exitNotFound
	case is(node.ErrUnseen, node.ErrDisputed):
		return exitUnseen
	case is(node.ErrInUse, rpc.ErrUnreachable, rpc.ErrToken):
		return exitUnreachable
	case is(context.Canceled):
		return exitInterrupted
	}
	return exitRefused
}

// usage marks an error of the command line.
type usage struct{ error }

func (u usage) Unwrap() error { return u.error }

func usagef(format string, args ...any) error { return usage{fmt.Errorf(format, args...)} }
