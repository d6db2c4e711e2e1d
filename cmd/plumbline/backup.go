package main

import (
	"context"
	"fmt"
	"io"
	"path/filepath"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) backup() *cobra.Command {
	return &cobra.Command{
		Use: "backup FILE", Short: "Write all records to one new file, also while the node runs",
		Long: `Write all records to one new file, also while the node runs. No keys are in it:
restored elsewhere it can be read at once, and written to after joining the staff.`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			path, err := filepath.Abs(args[0])
			if err != nil {
				return fmt.Errorf("the backup's file: %w", err)
			}
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				p := a.progress("backing up")
				answer, err := c.Node.Backup(ctx, &v1.BackupRequest{Path: path})
				p.stop()
				if err != nil {
					return err
				}
				return a.print(answer, func(w io.Writer) {
					fmt.Fprintf(w, "%s, %d bytes, in %s\n", counted(int(answer.GetEntries()), "entry", "entries"), answer.GetBytes(), path)
				})
			})
		},
	}
}
