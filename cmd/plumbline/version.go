package main

import (
	"fmt"
	"runtime/debug"

	"github.com/spf13/cobra"
)

func (a *app) version() *cobra.Command {
	return &cobra.Command{
		Use: "version", Short: "Print the program's version", Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			if a.json {
				return a.printPlain(map[string]string{"version": version()})
			}
			_, err := fmt.Fprintln(a.out, version())
			return err
		},
	}
}

// version is what the build says of itself: a release's number, or the commit.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok || info.Main.Version == "" {
		return "(unknown)"
	}
	return info.Main.Version
}
