package rpc_test

import (
	"bytes"
	"io"
	"net/http"
	"slices"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"

	"plumbline/node"
	"plumbline/node/demo"
	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

const (
	listPath   = "/plumbline.v1.LedgerService/List"
	healthPath = "/grpc.health.v1.Health/Check"
)

// manyProspects is a whole class with little beneath it: lists are made of what
// is kept of each prospect, however much that was worked out from.
var manyProspects = demo.Size{Scouts: 4, Prospects: 3000, Games: 100, Reps: 6000, RepsPerLook: 50, Evaluations: 2000}

// BenchmarkList asks for lists of 3,000 prospects as the page does: over TCP, in
// binary, with the headers of a browser. The baseline is "nothing", the cheapest
// call there is. The world is invented.
//
//	go test -run '^$' -bench List -benchtime 300x ./node/rpc
func BenchmarkList(b *testing.B) {
	f := newFolders(b)
	n := f.founded(b)
	name := importClass(b, n, manyProspects)
	server := f.serve(b, n, 0)
	defer func() {
		if err := server.Close(); err != nil {
			b.Error(err)
		}
	}()
	list := func(search, where string, limit uint32) *v1.ListRequest {
		return &v1.ListRequest{Search: search, Where: where, Limit: limit, Sort: []string{"name"}, TextsOnly: true, Columns: []string{
			"name", "position", "school", "class_year", "height", "weight", "arm", "forty", "looks", "reps", "won_share", "evaluations", "overall",
		}}
	}
	for _, call := range []struct {
		name, path string
		request    proto.Message
	}{
		{"nothing", healthPath, &v1.SchemaRequest{}},
		{"search-1-letter", listPath, list(name[:1], "", 100)},
		{"search-3-letters", listPath, list(name[:3], "", 100)},
		{"search-name", listPath, list(name, "", 100)},
		{"where", listPath, list("", `position == "tackle" && arm >= 334`, 100)},
		{"first-100", listPath, list("", "", 100)},
		{"all", listPath, list("", "", 0)},
		{"all-with-cells", listPath, &v1.ListRequest{}},
	} {
		b.Run(call.name, func(b *testing.B) {
			body, err := proto.Marshal(call.request)
			if err != nil {
				b.Fatal(err)
			}
			var took []time.Duration
			size := 0
			for b.Loop() {
				began := time.Now()
				size = len(postBinary(b, server, call.path, body))
				took = append(took, time.Since(began))
			}
			slices.Sort(took)
			b.ReportMetric(float64(took[len(took)/2].Microseconds())/1000, "p50-ms")
			b.ReportMetric(float64(took[len(took)*99/100].Microseconds())/1000, "p99-ms")
			b.ReportMetric(float64(size)/1000, "kB")
			b.ReportMetric(0, "ns/op")
		})
	}
}

// importClass fills a node, and returns a prospect's name.
func importClass(b *testing.B, n *node.Node, size demo.Size) string {
	w := demo.New(1, size)
	for person := range w.People {
		for _, t := range w.Tables(demo.PersonIndex(person)) {
			report, err := n.Import(b.Context(), node.ImportRequest{Kind: t.Kind, Data: t.Data, File: t.File, Source: demo.Source})
			if err != nil || len(report.Errors) > 0 {
				b.Fatal(err, report.Errors)
			}
		}
	}
	all, err := n.List(b.Context(), node.ListQuery{})
	if err != nil {
		b.Fatal(err)
	}
	return all.Rows[len(all.Rows)/2].Title
}

// postBinary calls with a message in binary. The client takes gzip, as browsers do,
// and undoes it.
func postBinary(b *testing.B, server *rpc.Server, path string, body []byte) []byte {
	req, err := http.NewRequestWithContext(b.Context(), http.MethodPost, "http://"+server.Address.Address+path, bytes.NewReader(body))
	if err != nil {
		b.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/proto")
	req.Header.Set("Authorization", "Bearer "+server.Address.Token)
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		b.Fatal(err)
	}
	defer resp.Body.Close()
	answer, err := io.ReadAll(resp.Body)
	if err != nil || resp.StatusCode != http.StatusOK {
		b.Fatal(resp.Status, err, string(answer))
	}
	return answer
}
