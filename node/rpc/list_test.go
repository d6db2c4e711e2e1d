package rpc_test

import (
	"net/http"
	"testing"

	"google.golang.org/protobuf/proto"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

// Who asks for texts only gets the same list, without its cells. All names are
// invented.
func TestListTextsOnly(t *testing.T) {
	server := served(t)
	client := rpc.Dial(server.Address)
	defer client.Close()
	addProspect(t, t.Context(), client, "Orrin Vale")
	addProspect(t, t.Context(), client, "Alvery Hargorrow")
	ask := func(textsOnly bool) *v1.ListResponse {
		answer, err := client.Ledger.List(t.Context(), &v1.ListRequest{Columns: []string{"name", "looks"}, TextsOnly: textsOnly})
		if err != nil {
			t.Fatal(err)
		}
		return answer
	}
	whole, texts := ask(false), ask(true)
	if len(whole.GetRows()) != 2 || whole.GetRows()[0].GetTexts()[0] != "Alvery Hargorrow" {
		t.Fatalf("got %v", whole)
	}
	for _, row := range whole.GetRows() {
		if len(row.GetCells()) != 2 {
			t.Errorf("got the cells %v, want two", row.GetCells())
		}
		row.Cells = nil
	}
	if !proto.Equal(whole, texts) {
		t.Errorf("texts only gives %v, want %v", texts, whole)
	}
}

// To compress what never leaves the machine takes longer than to send it.
func TestAnswersAreNotCompressed(t *testing.T) {
	server := served(t)
	status, header, _ := request{server: server, path: "/plumbline.v1.LedgerService/Schema", body: `{}`,
		header: map[string]string{"Accept-Encoding": "gzip, deflate, br"}}.do(t)
	if got := header.Get("Content-Encoding"); status != http.StatusOK || got != "" {
		t.Errorf("got %d, encoded as %q", status, got)
	}
}
