package main

import (
	"context"
	"fmt"
	"io"
	"slices"

	"github.com/spf13/cobra"

	"plumbline/node/record"
	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) conflicts() *cobra.Command {
	return &cobra.Command{
		Use: "conflicts [RECORD]", Short: "List what only a person can settle",
		Long: `List fields with several different values, retirements in dispute, and records that
were joined and kept apart at once: who wrote what, when, and what to do.`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			req := &v1.ConflictsRequest{}
			if len(args) == 1 {
				req.Record = args[0]
			}
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				answer, err := c.Ledger.Conflicts(ctx, req)
				if err != nil {
					return err
				}
				status, err := c.Node.Status(ctx, &v1.StatusRequest{})
				if err != nil {
					return err
				}
				return a.print(answer, func(w io.Writer) {
					others := 0
					for _, conflict := range answer.GetConflicts() {
						isOthers := conflict.GetPerson() != "" && conflict.GetPerson() != status.GetPerson()
						a.writeConflict(w, conflict, isOthers)
						if isOthers {
							others++
						}
					}
					fmt.Fprintln(w, counted(len(answer.GetConflicts()), "conflict", "conflicts")+forOthers(others))
				})
			})
		},
	}
}

// forOthers ends a count of conflicts.
func forOthers(others int) string {
	if others == 0 {
		return ""
	}
	return fmt.Sprintf(", %d of them for others to settle", others)
}

func (a *app) writeConflict(w io.Writer, conflict *v1.Conflict, isOthers bool) {
	field := conflict.GetField()
	about := conflict.GetAbout()
	if field != nil {
		about = field.GetName()
	}
	fmt.Fprintf(w, "%s (%s): %s\n", conflict.GetTitle(), conflict.GetKind(), about)
	writeSides(w, conflict)
	if isOthers {
		fmt.Fprintf(w, "  It is %s's to settle.\n\n", conflict.GetPersonName())
		return
	}
	if field == nil || len(field.GetValues()) == 0 {
		fmt.Fprintf(w, "  %s\n\n", a.here(conflict.GetAdvice()))
		return
	}
	settle := []string{"settle", conflict.GetRecord(), field.GetName()}
	fmt.Fprintf(w, "  %s\n", a.command(append(settle, "--choose", field.GetValues()[0].GetId())...))
	if isProse(conflict.GetKind(), field.GetName()) {
		fmt.Fprintf(w, "  %s\n", a.command(append(settle, "--merge")...))
	}
	fmt.Fprintln(w)
}

// writeSides gives what stands against each other: a line each, or whole texts
// where a line has no room for one, since what differs may stand at the end.
func writeSides(w io.Writer, conflict *v1.Conflict) {
	var rows [][]string
	var texts []string
	if before := conflict.GetAncestor(); before != nil {
		rows, texts = append(rows, []string{"", origin(before), "(before)"}), append(texts, valueText(before))
	}
	for _, group := range gathered(slices.Concat(conflict.GetField().GetValues(), conflict.GetSaid())) {
		rows, texts = append(rows, []string{"", origins(group), group[0].GetId()}), append(texts, valueText(group[0]))
	}
	if slices.ContainsFunc(texts, func(text string) bool { return cell(text) != text }) {
		for i, row := range rows {
			fmt.Fprintf(w, "  %s, %s\n", row[2], row[1])
			writeProse(w, "    ", texts[i])
		}
		return
	}
	for i, row := range rows {
		row[0] = texts[i]
	}
	table(w, "  ", rows)
}

// isProse reports whether a field holds a text that can be merged.
func isProse(kind, field string) bool {
	k, err := record.Stored().KindByName(kind)
	if err != nil {
		return false
	}
	reg, err := k.Register(field)
	return err == nil && reg.Field.IsText()
}
