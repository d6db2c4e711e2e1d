package main

import (
	"context"
	"io"
	"os/signal"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"plumbline/node"
	"plumbline/node/demo"
)

// demoNode runs the node of one of the demonstration's laptops, as run does. It
// ends when its standard input does, so on every system it ends cleanly with the
// demonstration, whatever ends that. Ctrl-C is for the demonstration to handle.
func (a *app) demoNode() *cobra.Command {
	var f runFlags
	var away bool
	cmd := &cobra.Command{
		Use: "node", Hidden: true, Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			ctx, stop := signal.NotifyContext(context.WithoutCancel(cmd.Context()), syscall.SIGTERM)
			defer stop()
			go func() {
				_, _ = io.Copy(io.Discard, a.in) // its end is what counts
				stop()
			}()
			var links *node.Links
			if !away {
				var err error
				if links, err = f.links(); err != nil {
					return err
				}
			}
			f.now = demo.Clock(time.Now)
			return a.runNode(ctx, links, f)
		},
	}
	cmd.Flags().BoolVar(&away, "away", false, "without any network")
	cmd.Flags().StringVar(&f.listen, "listen", "", "")
	cmd.Flags().IntVar(&f.apiPort, "api-port", 0, "")
	return cmd
}
