package main

import (
	"context"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) settle() *cobra.Command {
	req := &v1.SettleRequest{}
	var value string
	var merge bool
	cmd := &cobra.Command{
		Use: "settle RECORD FIELD", Short: "End a conflict with one value",
		Long: `End a conflict: keep one of the values, write another one, merge what people
changed in different places of a text, or clear the field. It replaces the values
that --seen names; without it those that stand there as it reads them, and it says
which these were.`,
		Example: `  plumbline settle "Orrin Vale" jersey --choose 4k…m2.17.x9…
  plumbline settle "Orrin Vale" jersey --value 71
  plumbline settle "Orrin Vale" note --merge`,
		Args: cobra.ExactArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			req.Record, req.Field = args[0], args[1]
			if cmd.Flags().Changed("value") {
				var err error
				if req.Text, err = a.readValue(value); err != nil {
					return err
				}
			}
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				if merge {
					if err := mergeConflict(ctx, c, req); err != nil {
						return err
					}
				}
				replaced, err := whatStands(ctx, c, req)
				if err != nil {
					return err
				}
				answer, err := c.Ledger.Settle(ctx, req)
				if err != nil {
					return err
				}
				return a.print(answer, func(w io.Writer) {
					writeRecord(w, answer.GetRecord(), false)
					writeReplaced(w, replaced)
				})
			})
		},
	}
	flags := cmd.Flags()
	flags.StringVar(&req.Choose, "choose", "", "id of the value to keep, or its start with the number (4k…m2.17)")
	flags.StringVar(&value, "value", "", "another value, or @file")
	flags.BoolVar(&merge, "merge", false, "what each changed of the text, put together")
	flags.BoolVar(&req.Clear, "clear", false, "leave the field without a value")
	flags.StringSliceVar(&req.Seen, "seen", nil, "ids of the values that you saw and replace (those it reads if none)")
	cmd.MarkFlagsOneRequired("choose", "value", "merge", "clear")
	cmd.MarkFlagsMutuallyExclusive("choose", "value", "merge", "clear")
	cmd.MarkFlagsMutuallyExclusive("merge", "seen")
	return cmd
}

// whatStands reads what stands in the field, and names it as seen unless the
// person did: only that is replaced, and it is shown afterwards. What comes in
// from another laptop in between stays.
func whatStands(ctx context.Context, c *rpc.Client, req *v1.SettleRequest) (*v1.Field, error) {
	have, err := c.Ledger.Get(ctx, &v1.GetRequest{Record: req.GetRecord()})
	if err != nil {
		return nil, err
	}
	field := standingField(have.GetRecord(), path(have.GetRecord().GetId(), req.GetField()))
	if len(req.GetSeen()) == 0 {
		req.Seen = valueIDs(field)
	}
	return field, nil
}

// standingField finds a field of a record; nil if it has no value.
func standingField(record *v1.Record, name string) *v1.Field {
	for _, field := range record.GetFields() {
		if field.GetName() == name {
			return field
		}
	}
	return nil
}

func valueIDs(field *v1.Field) []string {
	var ids []string
	for _, value := range field.GetValues() {
		ids = append(ids, value.GetId())
	}
	return ids
}

func writeReplaced(w io.Writer, field *v1.Field) {
	if len(field.GetValues()) > 0 {
		fmt.Fprintln(w, "\nin place of")
		table(w, "  ", fieldRows(field, false))
		writeLong(w, []*v1.Field{field})
	}
}
