package rpc_test

import (
	"strings"
	"testing"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

// The handlers are the same in memory; what is written there is read there.
func TestInMemory(t *testing.T) {
	memory := rpc.InMemory(newFolders(t).founded(t))
	id := addProspect(t, t.Context(), memory.Client, "Orrin Vale")
	list, err := memory.Ledger.List(t.Context(), &v1.ListRequest{Where: `name == "Orrin Vale"`, Columns: []string{"name", "position"}})
	if err != nil {
		t.Fatal(err)
	}
	rows := list.GetRows()
	if len(rows) != 1 || rows[0].GetId() != id || list.GetTotal() != 1 {
		t.Fatalf("got %v", list)
	}
	if name, missing := rows[0].GetCells()[0].AsInterface(), rows[0].GetCells()[1].AsInterface(); name != "Orrin Vale" || missing != nil {
		t.Errorf("got the cells %v and %v", name, missing)
	}
	if _, err := memory.Ledger.Schema(t.Context(), &v1.SchemaRequest{}); err != nil {
		t.Errorf("schema: %v", err)
	}
	if err := memory.Close(); err != nil {
		t.Errorf("closing: %v", err)
	}
	if _, err := memory.Node.Status(t.Context(), &v1.StatusRequest{}); err == nil {
		t.Error("a call after the end was answered")
	}
}

// A text that is longer than any buffer crosses the pipe whole, both ways.
func TestLongTextInMemory(t *testing.T) {
	memory := rpc.InMemory(newFolders(t).founded(t))
	defer memory.Close()
	id := addProspect(t, t.Context(), memory.Client, "Orrin Vale")
	text := strings.Repeat("patient hands, ", 2000)
	_, err := memory.Ledger.Write(t.Context(), &v1.WriteRequest{Writes: []*v1.Write{{Record: id, Sets: []*v1.Set{{Field: "note", Text: text}}}}})
	if err != nil {
		t.Fatal(err)
	}
	answer, err := memory.Ledger.Get(t.Context(), &v1.GetRequest{Record: id})
	if err != nil {
		t.Fatal(err)
	}
	for _, field := range answer.GetRecord().GetFields() {
		if field.GetName() == "note" {
			if got := field.GetValues()[0].GetJson().GetStringValue(); strings.TrimSpace(got) != strings.TrimSpace(text) {
				t.Errorf("the note came back with %d bytes of %d", len(got), len(text))
			}
			return
		}
	}
	t.Error("the note didn't come back")
}

func TestWatchInMemoryEndsWithTheServer(t *testing.T) {
	memory := rpc.InMemory(newFolders(t).founded(t))
	stream, err := memory.Ledger.Watch(t.Context(), &v1.WatchRequest{})
	if err != nil {
		t.Fatal(err)
	}
	defer stream.Close()
	if !stream.Receive() || stream.Msg().GetEntries() == 0 {
		t.Fatalf("no first message: %v", stream.Err())
	}
	closed := make(chan error)
	go func() { closed <- memory.Close() }()
	if stream.Receive() || stream.Err() != nil {
		t.Errorf("after the end: %v, %v", stream.Msg(), stream.Err())
	}
	if err := <-closed; err != nil {
		t.Errorf("closing: %v", err)
	}
}

func TestVerifyTellsTheState(t *testing.T) {
	memory := rpc.InMemory(newFolders(t).founded(t))
	defer memory.Close()
	addProspect(t, t.Context(), memory.Client, "Orrin Vale")
	status, err := memory.Node.Status(t.Context(), &v1.StatusRequest{})
	if err != nil {
		t.Fatal(err)
	}
	stream, err := memory.Node.Verify(t.Context(), &v1.VerifyRequest{})
	if err != nil {
		t.Fatal(err)
	}
	defer stream.Close()
	last := &v1.VerifyResponse{}
	for stream.Receive() {
		last = stream.Msg()
	}
	if err := stream.Err(); err != nil || !last.GetFinished() || len(last.GetFaults()) != 0 {
		t.Fatalf("got %v, %v", last, err)
	}
	if last.GetStateHash() != status.GetStateHash() {
		t.Errorf("verify ends with the state %s, status says %s", last.GetStateHash(), status.GetStateHash())
	}
}
