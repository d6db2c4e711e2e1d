package main

import (
	"context"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) verify() *cobra.Command {
	return &cobra.Command{
		Use: "verify", Short: "Read everything back, hash and merge it anew, and compare",
		Long: `Read everything back: check the file, every hash and signature, merge all entries anew
and compare what is worked out from them. What is wrong of that is made anew.

The search index is compared in a passing file, about four times as large as the
index, in the system's folder for those, which TMPDIR names (on Windows TMP).`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				last, err := a.followVerify(ctx, c)
				if err != nil {
					return err
				}
				if err := a.print(last, func(w io.Writer) { writeVerified(w, last) }); err != nil {
					return err
				}
				if n := len(last.GetFaults()); n > 0 {
					return fmt.Errorf("%s found: keep this folder as it is, restore a backup into another one and let it catch up",
						counted(n, "fault was", "faults were"))
				}
				return nil
			})
		},
	}
}

func (a *app) followVerify(ctx context.Context, c *rpc.Client) (*v1.VerifyResponse, error) {
	stream, err := c.Node.Verify(ctx, &v1.VerifyRequest{})
	if err != nil {
		return nil, err
	}
	defer stream.Close()
	p := a.progress("verifying")
	defer p.stop()
	last := &v1.VerifyResponse{}
	for stream.Receive() {
		last = stream.Msg()
		p.set(last.GetDone(), last.GetTotal())
	}
	if err := stream.Err(); err != nil {
		return nil, err
	}
	if !last.GetFinished() {
		return nil, fmt.Errorf("the node stopped while it verified: run it again")
	}
	return last, nil
}

func writeVerified(w io.Writer, last *v1.VerifyResponse) {
	for _, fault := range last.GetFaults() {
		fmt.Fprintln(w, fault)
	}
	for _, mended := range last.GetMended() {
		fmt.Fprintln(w, mended)
	}
	if n := len(last.GetMended()); n > 0 && len(last.GetFaults()) == 0 {
		fmt.Fprintf(w, "%s wrong in what is worked out from the entries, and made anew. The entries hold. If it comes again, have the laptop's disk and memory looked at.\n",
			counted(n, "thing was", "things were"))
	}
	if len(last.GetFaults()) == 0 {
		fmt.Fprintf(w, "%s verified, state %s\n", counted(int(last.GetTotal()), "entry or record", "entries and records"), last.GetStateHash())
	}
}
