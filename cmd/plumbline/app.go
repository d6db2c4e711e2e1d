package main

import (
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"plumbline/node/near"
)

// app is one command line under way.
type app struct {
	in       io.Reader
	out, err io.Writer

	data, state   string
	json, verbose bool
	// As they were typed, for commands that are proposed.
	namedData, namedState string

	started bool // the command line was understood
	typed   chan string
}

const about = `Plumbline keeps what a scouting staff knows on every laptop of the staff: each
writes offline, laptops that meet exchange what they lack, and nothing that
anybody saved is lost or silently replaced.

Records are named by their id, by a prefix of it, or by their name ("Orrin
Vale"). Fields are given as field=value; field=@file reads a text from a file,
field=@- from standard input, and @@ stands for a single @ in front.

Commands go to the node that runs on the data folder ("plumbline run"); when none
does, they open the folder themselves.

` + exitHelp

func (a *app) root() *cobra.Command {
	root := &cobra.Command{
		Use: "plumbline", Short: "A scouting staff's records, on every laptop of the staff", Long: about,
		SilenceErrors: true, SilenceUsage: true,
		Args:              known,
		RunE:              func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
		PersistentPreRunE: func(cmd *cobra.Command, _ []string) error { return a.start(cmd) },
	}
	flags := root.PersistentFlags()
	flags.StringVar(&a.data, "data", "", "folder of the records (default "+shown(defaultData())+")")
	flags.StringVar(&a.state, "state", "", "folder of this laptop's keys, kept apart from the records (default "+
		shown(defaultState(""))+")")
	flags.BoolVarP(&a.verbose, "verbose", "v", false, "also say on standard error what goes on: the causes of errors, what links do")
	flags.BoolVar(&a.json, "json", false, "print the API's answer as JSON")
	root.AddGroup(
		&cobra.Group{ID: "records", Title: "Records:"},
		&cobra.Group{ID: "doubts", Title: "What only a person can settle:"},
		&cobra.Group{ID: "staff", Title: "The staff and its laptops:"},
		&cobra.Group{ID: "laptop", Title: "This laptop:"},
	)
	a.add(root, "records", a.list(), a.show(), a.fields(), a.addRecord(), a.set(), a.file(), a.retire(), a.keep(), a.importTable(), a.export())
	a.add(root, "doubts", a.conflicts(), a.settle(), a.doubles(), a.same(), a.aside(), a.accept())
	a.add(root, "staff", a.init(), a.invite(), a.join(), a.recover(), a.roster(), a.promote(), a.revoke())
	a.add(root, "laptop", a.run(), a.openPage(), a.demo(), a.status(), a.connect(), a.verify(), a.backup(), a.restore(), a.version())
	wordArguments(root.Commands())
	root.SetFlagErrorFunc(misusedFlag)
	return root
}

// known refuses what is no command, with those that may have been meant.
func known(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	var names []string
	for _, command := range cmd.Commands() {
		names = append(names, command.Name())
	}
	if meant := near.Names(args[0], names); len(meant) > 0 {
		return fmt.Errorf("unknown command %q; did you mean %s?", args[0], near.Or(meant))
	}
	return fmt.Errorf("unknown command %q", args[0])
}

func (a *app) add(root *cobra.Command, group string, commands ...*cobra.Command) {
	for _, command := range commands {
		command.GroupID = group
		root.AddCommand(command)
	}
}

// start settles the folders once the flags are read.
func (a *app) start(cmd *cobra.Command) error {
	if err := groupedFlags(cmd); err != nil {
		return err
	}
	a.namedData, a.namedState = a.data, a.state
	var err error
	if a.data, a.state, err = folders(a.data, a.state); err != nil {
		return err
	}
	a.started = true
	return nil
}

// isTerminal reports whether a person sits at the other end.
func isTerminal(stream any) bool {
	file, ok := stream.(*os.File)
	return ok && term.IsTerminal(int(file.Fd()))
}
