package rpc_test

import (
	"database/sql"
	"fmt"
	"net/http"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	_ "modernc.org/sqlite"

	"plumbline/node"
	"plumbline/node/demo"
	v1 "plumbline/proto/plumbline/v1"
)

// The goals in numbers at the API, as rows of the table that `.ci/goals`
// prints. All data is invented.

// goal prints one row of the table.
func goal(what, goal, figure, baseline, ratio string) {
	fmt.Printf("| %s | %s | %s | %s | %s |\n", what, goal, figure, baseline, ratio)
}

func millis(d time.Duration) string { return fmt.Sprintf("%.2f ms", float64(d.Microseconds())/1000) }

// at returns the value below which so many hundredths lie.
func at(hundredths int, all []time.Duration) time.Duration {
	slices.Sort(all)
	return all[min(len(all)*hundredths/100, len(all)-1)]
}

// BenchmarkGoalSave saves one rep through the API, durably, and stores one row of
// its size in a bare database, in turns.
//
//	go test -run '^$' -bench GoalSave -benchtime 300x ./node/rpc
func BenchmarkGoalSave(b *testing.B) {
	f := newFolders(b)
	n := f.founded(b)
	server := f.serve(b, n, 0)
	defer server.Close()
	ids, err := n.Write(b.Context(), []node.Write{{Kind: "prospect", Sets: []node.Set{{Field: "name", Text: "Orrin Vale"}}}})
	if err != nil {
		b.Fatal(err)
	}
	ids, err = n.Write(b.Context(), []node.Write{{Kind: "look", Sets: []node.Set{{Field: "prospect", Text: ids[0].String()}, {Field: "mode", Text: "film"}}}})
	if err != nil {
		b.Fatal(err)
	}
	time.Sleep(time.Second) // a node has come to rest long before anybody saves
	db, err := sql.Open("sqlite", filepath.Join(b.TempDir(), "bare.db"))
	if err != nil {
		b.Fatal(err)
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	if _, err := db.Exec(`PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; CREATE TABLE entry (n INTEGER PRIMARY KEY, body BLOB)`); err != nil {
		b.Fatal(err)
	}
	insert, err := db.Prepare(`INSERT INTO entry (body) VALUES (?)`)
	if err != nil {
		b.Fatal(err)
	}
	var saved, bare, nothing []time.Duration
	empty := must(b, &v1.SchemaRequest{})
	for i := range max(b.N, 300) {
		body := must(b, &v1.WriteRequest{Writes: []*v1.Write{{Kind: "rep", Sets: []*v1.Set{
			{Field: "look", Text: ids[0].String()}, {Field: "number", Text: strconv.Itoa(i%9999 + 1)}, {Field: "result", Text: "won"},
		}}}})
		began := time.Now()
		postBinary(b, server, "/plumbline.v1.LedgerService/Write", body)
		saved = append(saved, time.Since(began))
		began = time.Now()
		if _, err := insert.Exec(body); err != nil {
			b.Fatal(err)
		}
		bare = append(bare, time.Since(began))
		began = time.Now()
		postBinary(b, server, healthPath, empty)
		nothing = append(nothing, time.Since(began))
	}
	ratio := fmt.Sprintf("%.2f ×", float64(at(50, saved))/float64(at(50, bare)))
	goal("save one rep, durable, at the API: median", "at most 1.5 × bare commit", millis(at(50, saved)), millis(at(50, bare))+" bare commit", ratio)
	goal("of which a call that does nothing: median", "", millis(at(50, nothing)), "", "")
	b.ReportMetric(0, "ns/op")
}

func must(b *testing.B, m proto.Message) []byte {
	body, err := proto.Marshal(m)
	if err != nil {
		b.Fatal(err)
	}
	return body
}

// BenchmarkGoalLists asks one laptop that holds what a staff of forty gathers in
// a year, 3,000 prospects and 300,000 reps imported from tables, over TCP as the
// page does.
//
//	go test -run '^$' -bench GoalLists -benchtime 100x ./node/rpc
func BenchmarkGoalLists(b *testing.B) {
	f := newFolders(b)
	n := f.founded(b)
	name := importClass(b, n, demo.Season)
	server := f.serve(b, n, 0)
	defer server.Close()
	http.DefaultClient.CloseIdleConnections()
	list := func(kind, where, search string) proto.Message {
		return &v1.ListRequest{Kind: kind, Where: where, Search: search, Limit: 100, TextsOnly: true}
	}
	for _, call := range []struct {
		name, path string
		request    proto.Message
	}{
		{"all prospects, 100 shown", listPath, list("", "", "")},
		{"prospects by measurements and reps", listPath, list("", `position == "tackle" && arm >= 268 && reps > 10 && won_share > 0.5`, "")},
		{"prospects by name", listPath, list("", "", name)},
		{"one prospect", "/plumbline.v1.LedgerService/Get", &v1.GetRequest{Record: name}},
		{"conflicts", "/plumbline.v1.LedgerService/Conflicts", &v1.ConflictsRequest{}},
		{"looks, 100 shown", listPath, list("look", "", "")},
		{"reps, 100 shown", listPath, list("rep", "", "")},
		{"reps that were lost", listPath, list("rep", `result == "lost"`, "")},
		{"reps lost late on third and long", listPath, list("rep", `result == "lost" && down == 3 && distance > 7 && quarter == 4`, "")},
		{"evaluations above 6", listPath, list("evaluation", `overall > 6`, "")},
	} {
		body := must(b, call.request)
		asked := time.Now()
		postBinary(b, server, call.path, body)
		first := time.Since(asked)
		var took []time.Duration
		for range max(b.N, 50) {
			began := time.Now()
			postBinary(b, server, call.path, body)
			took = append(took, time.Since(began))
		}
		goal(call.name+": p99 (p50, first)", "under 50 ms", fmt.Sprintf("%s (%s, %s)", millis(at(99, took)), millis(at(50, took)), millis(first)), "", "")
	}
	b.ReportMetric(0, "ns/op")
}
