package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"plumbline/node"
)

func (a *app) restore() *cobra.Command {
	return &cobra.Command{
		Use: "restore FILE", Short: "Lay a backup into a data folder without entries",
		Long: `Lay a backup, of an earlier version too, into a data folder without entries. All of
it is verified first. On the laptop that it comes from, with its keys still
there, work goes on. Elsewhere it can be read at once; writing waits until the
laptop has joined the staff.`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			p := a.progress("restoring")
			err := node.Restore(cmd.Context(), args[0], a.data, a.state)
			p.stop()
			if err != nil {
				return err
			}
			if a.json {
				return a.printPlain(map[string]string{"data": a.data, "state": a.state})
			}
			_, err = fmt.Fprintf(a.out, "restored into %s\n", a.data)
			return err
		},
	}
}
