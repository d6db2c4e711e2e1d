package node

import (
	"strconv"
	"testing"
	"time"
)

const firstList = "list of prospects"

// questions are what a laptop may be asked once it has caught up, by what that is.
// Nobody's observations hold the word that is searched for: what takes time then is
// to index the words of all reps.
var questions = map[string]ListQuery{
	firstList:           {Where: "reps > 10 && won_share > 0.3"},
	"list of reps":      {Kind: "rep", Where: `result == "lost"`, Limit: 100},
	"search among reps": {Kind: "rep", Search: "swim", Limit: 100},
}

// BenchmarkFirstQuestions lets empty laptops catch up, asks each one question at
// once, and says what that takes beside catching up. The ratio is of processor
// times, since the list waits for nobody else.
//
//	PLUMBLINE_ENTRIES=300000 go test -run '^$' -bench FirstQuestions -benchtime 1x ./node
func BenchmarkFirstQuestions(b *testing.B) {
	entries := goalEntries(b)
	director := season(b, entries)
	untilCalm() // what the other laptop works out ahead isn't what is measured
	for range b.N {
		for _, what := range sortedKeys(questions) {
			newcomer := newLaptop(b, "Pia Norrland")
			pair(b, director, newcomer, newcomer.name, false)
			newcomer.stopNow()
			got := follow(b, director, newcomer, time.Second, what)
			goal("first "+what+" after a catch-up of "+strconv.Itoa(entries), "", seconds(got.Query)+", processor "+seconds(got.QueryCPU),
				seconds(got.Wall)+", processor "+seconds(got.CPU)+" to catch up", times(got.QueryCPU, got.CPU))
			goal("the same: worked out ahead after that", "", seconds(got.Tidy)+", processor "+seconds(got.TidyCPU), "", "")
			goal("the same: most anonymous memory", "under 128 MiB", mebibytes(got.Anonymous), "", "")
		}
	}
	b.ReportMetric(0, "ns/op")
}
