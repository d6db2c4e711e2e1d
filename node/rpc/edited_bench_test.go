package rpc_test

import (
	"fmt"
	"testing"
	"time"

	"plumbline/node"
	"plumbline/node/demo"
	v1 "plumbline/proto/plumbline/v1"
)

// BenchmarkListsAfterEdits asks for the reps of a season right after something
// was changed of which their titles are made: a prospect's name, a game's date, and,
// as the baseline, a rep's number.
//
//	go test -run '^$' -bench ListsAfterEdits -benchtime 1x ./node/rpc
func BenchmarkListsAfterEdits(b *testing.B) {
	f := newFolders(b)
	n := f.founded(b)
	importClass(b, n, demo.Season)
	server := f.serve(b, n, 0)
	defer server.Close()
	reps := must(b, &v1.ListRequest{Kind: "rep", Limit: 100, TextsOnly: true})
	postBinary(b, server, listPath, reps)
	for _, edit := range []struct{ kind, field, text string }{
		{"rep", "number", "%d"}, {"prospect", "name", "Orrin Vale %d"}, {"prospect", "jersey", "%d"}, {"game", "date", "2026-10-%02d"},
	} {
		all, err := n.List(b.Context(), node.ListQuery{Kind: edit.kind, Limit: 50})
		if err != nil {
			b.Fatal(err)
		}
		var took []time.Duration
		for i, row := range all.Rows[:25] {
			overwrite(b, n, row.ID.String(), edit.field, fmt.Sprintf(edit.text, i+1))
			began := time.Now()
			postBinary(b, server, listPath, reps)
			took = append(took, time.Since(began))
		}
		goal(fmt.Sprintf("reps, after a %s's %s was changed: p99 (p50)", edit.kind, edit.field), "", fmt.Sprintf("%s (%s)", millis(at(99, took)), millis(at(50, took))), "", "")
	}
	b.ReportMetric(0, "ns/op")
}

// overwrite writes over what is shown.
func overwrite(b *testing.B, n *node.Node, id, field, text string) {
	detail, err := n.Get(b.Context(), id, false, "")
	if err != nil {
		b.Fatal(err)
	}
	var seen []string
	for _, f := range detail.Record.Fields {
		if f.Name == field {
			for _, v := range f.Values {
				seen = append(seen, v.ID.String())
			}
		}
	}
	if _, err := n.Write(b.Context(), []node.Write{{Record: id, Sets: []node.Set{{Field: field, Text: text, Seen: seen}}}}); err != nil {
		b.Fatal(err)
	}
}
