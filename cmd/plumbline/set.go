package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"plumbline/node"
	"plumbline/node/record"
	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
	"plumbline/sync/entry"
)

func (a *app) set() *cobra.Command {
	var seen, clear []string
	cmd := &cobra.Command{
		Use: "set RECORD field=value…", Short: "Change fields of a record",
		Long: `Change fields of a record. A field that has a value is changed only when --seen
names the value that you saw there ("show --ids" prints it): so nobody replaces
what they haven't read. The start of an id will do that reaches over its number, as in
4k…m2.17. A field in conflict is settled instead, with "settle".`,
		Example: `  plumbline set "Orrin Vale" jersey=71
  plumbline set "Orrin Vale" jersey=72 --seen 4k…m2.17.x9…
  plumbline set "Orrin Vale" --clear hometown --seen 4k…m2.18.q1…`,
		Args: cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			sets, err := a.readSets(args[1:])
			if err != nil {
				return err
			}
			for _, field := range clear {
				sets = append(sets, &v1.Set{Field: field, Clear: true})
			}
			if len(sets) == 0 {
				return usagef("nothing to set: give field=value, or --clear FIELD")
			}
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				return a.setFields(ctx, c, args[0], sets, seen)
			})
		},
	}
	cmd.Flags().StringSliceVar(&seen, "seen", nil, "ids of the values that you saw and replace, or their starts with the number")
	cmd.Flags().StringSliceVar(&clear, "clear", nil, "fields to clear")
	return cmd
}

func (a *app) setFields(ctx context.Context, c *rpc.Client, name string, sets []*v1.Set, seen []string) error {
	if err := shareSeen(ctx, c, name, sets, seen); err != nil {
		return err
	}
	grades, err := ungoverned(ctx, c, sets)
	if err != nil {
		return err
	}
	answer, err := c.Ledger.Write(ctx, &v1.WriteRequest{Writes: []*v1.Write{{Record: name, Sets: sets}}})
	if err = rpc.Err(err); errors.Is(err, node.ErrUnseen) || errors.Is(err, node.ErrDisputed) {
		return a.adviseSet(ctx, c, name, sets, err)
	}
	if errors.Is(err, node.ErrRights) {
		return a.adviseOwn(ctx, c, name, sets, err)
	}
	if err != nil {
		return err
	}
	return errors.Join(a.warnOfSlips(grades), a.print(answer, func(w io.Writer) { fmt.Fprintln(w, answer.GetRecords()[0]) }))
}

// shareSeen gives each field those of the ids that were written there: to have
// seen one field is not to have seen another. The history also knows values that
// were replaced since.
func shareSeen(ctx context.Context, c *rpc.Client, name string, sets []*v1.Set, seen []string) error {
	if len(seen) == 0 {
		return nil
	}
	history, err := c.Ledger.History(ctx, &v1.HistoryRequest{Record: name})
	if err != nil {
		return err
	}
	for _, typed := range seen {
		id, err := node.MeantValue(typed, writtenValues(history.GetRevisions(), sets))
		if err != nil {
			return err
		}
		if id == "" {
			return usagef("--seen %s is no value of a field that is to be set: \"plumbline show --ids\" prints the values' ids", typed)
		}
		for _, revision := range history.GetRevisions() {
			for _, set := range sets {
				if revision.GetId() == id && writes(revision, set) != nil {
					set.Seen = append(set.Seen, id)
				}
			}
		}
	}
	return nil
}

// writtenValues are what was ever written to the fields that are to be set, those of
// one entry together.
func writtenValues(revisions []*v1.Revision, sets []*v1.Set) []node.WrittenValue {
	var all []node.WrittenValue
	for _, revision := range revisions {
		var texts []string
		for _, set := range sets {
			if field := writes(revision, set); field != nil {
				texts = append(texts, field.GetName()+" "+cmp.Or(field.GetText(), "(cleared)"))
			}
		}
		if len(texts) > 0 {
			all = append(all, node.WrittenValue{ID: revision.GetId(), Text: strings.Join(texts, ", ")})
		}
	}
	return all
}

// writes finds what a revision wrote to a field that is to be set; nil for nothing.
func writes(revision *v1.Revision, set *v1.Set) *v1.RevisedField {
	name := path(revision.GetRecord(), set.GetField())
	at := slices.IndexFunc(revision.GetFields(), func(f *v1.RevisedField) bool { return f.GetName() == name })
	if at < 0 {
		return nil
	}
	return revision.GetFields()[at]
}

// path is a field's own name, which a person may have typed as an alias.
func path(id, typed string) string {
	parsed, err := entry.ParseRecordID(id)
	if err != nil {
		return typed
	}
	kind, ok := record.Stored().KindOf(parsed)
	if !ok {
		return typed
	}
	register, err := kind.Register(typed)
	if err != nil {
		return typed // the node says what is wrong with it
	}
	return register.Path()
}
