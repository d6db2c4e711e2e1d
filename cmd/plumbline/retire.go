package main

import (
	"context"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) retire() *cobra.Command {
	req := &v1.RetireRequest{}
	var dry bool
	cmd := &cobra.Command{
		Use: "retire RECORD", Short: "Hide a record as you have read it",
		Long: `Hide a record as you have read it, and say what went out of sight. Nothing of it is
destroyed. What you hadn't read isn't covered: where something comes in from another
laptop, the record stays in sight until somebody keeps it or retires it again.

It covers what it reads and shows as it acts. --dry-run shows that and does nothing;
--as-of with the text that it ends in covers just what it has shown.`,
		Example: `  plumbline retire "Orrin Vale"
  plumbline retire "Orrin Vale" --dry-run`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				have, err := c.Ledger.Get(ctx, &v1.GetRequest{Record: args[0]})
				if err != nil {
					return err
				}
				if dry {
					return a.print(have, func(w io.Writer) { a.writeRetiring(w, have) })
				}
				if req.Record = have.GetRecord().GetId(); req.GetAsOf() == "" {
					req.AsOf = have.GetAsOf()
				}
				answer, err := c.Ledger.Retire(ctx, req)
				if err != nil {
					return asTyped(err)
				}
				return a.print(answer, func(w io.Writer) { writeRetired(w, have, answer) })
			})
		},
	}
	cmd.Flags().BoolVar(&dry, "dry-run", false, "show what would go out of sight, and do nothing")
	cmd.Flags().StringVar(&req.AsOf, asOfFlag, "", "up to where you read it, as --dry-run and show --json say")
	return cmd
}

// writeRetiring shows what would be retired.
func (a *app) writeRetiring(w io.Writer, have *v1.GetResponse) {
	writeRecord(w, have.GetRecord(), false)
	fmt.Fprintf(w, "\nretiring it hides %s; to hide just this:\n%s\n",
		goesWith(have), a.command("retire", have.GetRecord().GetId(), "--"+asOfFlag, have.GetAsOf()))
}

// writeRetired says what became of it: what was hidden with it, or what keeps it
// in sight.
func writeRetired(w io.Writer, have *v1.GetResponse, answer *v1.RetireResponse) {
	writeNamed(w, answer.GetRecord())
	if answer.GetUnread().GetTotal() == 0 {
		fmt.Fprintf(w, "hidden: %s, as it stood:\n", goesWith(have))
		var rows [][]string
		for _, field := range have.GetRecord().GetFields() {
			rows = append(rows, fieldRows(field, false)...)
		}
		table(w, "  ", rows)
		return
	}
	fmt.Fprintln(w, "it stays in sight: this hadn't been read")
	writeUnread(w, answer.GetUnread())
}

// writeUnread lists what hadn't been read.
func writeUnread(w io.Writer, unread *v1.Unread) {
	for _, revision := range unread.GetRevisions() {
		fmt.Fprintf(w, "%s (%s)\n", revision.GetTitle(), revision.GetKind())
		writeRevision(w, revision)
	}
	if more := int(unread.GetTotal()) - len(unread.GetRevisions()); more > 0 {
		fmt.Fprintf(w, "and %d more\n", more)
	}
}

// goesWith counts a record and what goes out of sight with it, by kind.
func goesWith(have *v1.GetResponse) string {
	parts := []string{"the " + have.GetRecord().GetKind()}
	counts := map[string]int{}
	var kinds []string
	for _, related := range have.GetRelated() {
		if counts[related.GetKind()]++; counts[related.GetKind()] == 1 {
			kinds = append(kinds, related.GetKind())
		}
	}
	for _, kind := range kinds {
		parts = append(parts, counted(counts[kind], kind, kind+"s"))
	}
	return strings.Join(parts, ", ")
}

// writeNamed is the line that names a record.
func writeNamed(w io.Writer, record *v1.Record) {
	fmt.Fprintf(w, "%s (%s)%s\n", record.GetTitle(), record.GetKind(), marks(record))
}
