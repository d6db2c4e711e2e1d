package main

import (
	"cmp"
	"context"
	"fmt"
	"io"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) showHistory(ctx context.Context, c *rpc.Client, record string) error {
	answer, err := c.Ledger.History(ctx, &v1.HistoryRequest{Record: record})
	if err != nil {
		return err
	}
	return a.print(answer, func(w io.Writer) {
		for _, revision := range answer.GetRevisions() {
			writeRevision(w, revision)
		}
	})
}

func writeRevision(w io.Writer, revision *v1.Revision) {
	status := ""
	if revision.GetStatus() != "applied" {
		status = " [" + revision.GetStatus() + "]"
	}
	source := ""
	if revision.GetSource() != "" {
		source = " from " + revision.GetSource()
	}
	fmt.Fprintf(w, "%s  %s: %s%s%s\n", when(revision.GetWritten()), revision.GetPersonName(), cmp.Or(revision.GetSays(), revision.GetAct()), source, status)
	var rows [][]string
	for _, field := range revision.GetFields() {
		text := cell(field.GetText())
		if field.GetCleared() {
			text = "(cleared)"
		}
		replaced := ""
		if n := len(field.GetReplaces()); n > 0 {
			replaced = "replaces " + counted(n, "value", "values")
		}
		rows = append(rows, []string{field.GetName(), text, replaced})
	}
	table(w, "  ", rows)
}
