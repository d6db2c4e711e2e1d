package node

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"plumbline/node/demo"
)

// BenchmarkSeason asks one laptop that holds what a staff of forty gathers in
// a year: 3,000 prospects, 300,000 reps, all of it imported from tables. The
// world is invented.
//
//	go test -run '^$' -bench Season -benchtime 100x ./node
func BenchmarkSeason(b *testing.B) {
	l := found(b)
	w := demo.New(1, demo.Season)
	began, rows := time.Now(), 0
	for person := range w.People {
		for _, t := range w.Tables(demo.PersonIndex(person)) {
			r, err := l.Import(b.Context(), ImportRequest{Kind: t.Kind, Data: t.Data, File: t.File, Source: demo.Source})
			require.NoError(b, err)
			require.Empty(b, r.Errors)
			rows += r.Rows
		}
	}
	b.Logf("%d rows imported in %v", rows, time.Since(began).Round(time.Millisecond))
	began = time.Now()
	all, err := l.List(b.Context(), ListQuery{})
	require.NoError(b, err)
	b.Logf("first list after the import: %v", time.Since(began).Round(time.Millisecond))
	id := all.Rows[len(all.Rows)/2].ID.String()
	question := ListQuery{Where: `position == "tackle" && arm >= 334 && reps > 10 && won_share > 0.5`, Columns: []string{"name", "arm", "arm_percentile", "won_share"}}
	for _, call := range []struct {
		name string
		do   func() error
	}{
		{"list", func() error { _, err := l.List(b.Context(), ListQuery{}); return err }},
		{"list-where", func() error { _, err := l.List(b.Context(), question); return err }},
		{"list-search", func() error { _, err := l.List(b.Context(), ListQuery{Search: all.Rows[7].Title}); return err }},
		{"prospect", func() error { _, err := l.Get(b.Context(), id, false); return err }},
		{"prospect-by-name", func() error { _, err := l.Get(b.Context(), all.Rows[9].Title, false); return err }},
		{"status", func() error { _, err := l.Status(b.Context()); return err }},
		{"conflicts", func() error { _, err := l.Conflicts(b.Context(), ""); return err }},
		{"doubles", func() error { _, err := l.Doubles(b.Context()); return err }},
		{"looks", func() error { _, err := l.List(b.Context(), ListQuery{Kind: "look", Limit: 100}); return err }},
		{"reps", func() error {
			_, err := l.List(b.Context(), ListQuery{Kind: "rep", Where: `result == "lost"`, Limit: 100})
			return err
		}},
	} {
		b.Run(call.name, func(b *testing.B) {
			var took []time.Duration
			for b.Loop() {
				began := time.Now()
				require.NoError(b, call.do())
				took = append(took, time.Since(began))
			}
			slices.Sort(took)
			b.ReportMetric(float64(took[len(took)/2].Microseconds())/1000, "p50-ms")
			b.ReportMetric(float64(took[len(took)*99/100].Microseconds())/1000, "p99-ms")
			b.ReportMetric(0, "ns/op")
		})
	}
}
