package rpc_test

import (
	"net/http"
	"slices"
	"testing"

	"connectrpc.com/connect"
	"connectrpc.com/grpcreflect"
	"google.golang.org/protobuf/reflect/protoreflect"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
	"plumbline/proto/plumbline/v1/plumblinev1connect"
)

// grpcTools calls as grpcurl and buf curl do: HTTP/2 in clear text, known before
// the first byte, and the token on every call.
func grpcTools(server *rpc.Server) *http.Client {
	var protocols http.Protocols
	protocols.SetUnencryptedHTTP2(true)
	return &http.Client{Transport: withToken{token: server.Address.Token, next: &http.Transport{Protocols: &protocols}}}
}

type withToken struct {
	token string
	next  http.RoundTripper
}

func (t withToken) RoundTrip(r *http.Request) (*http.Response, error) {
	r = r.Clone(r.Context())
	r.Header.Set("Authorization", "Bearer "+t.token)
	return t.next.RoundTrip(r)
}

func TestGRPCOverClearText(t *testing.T) {
	server := served(t)
	client := plumblinev1connect.NewLedgerServiceClient(grpcTools(server), "http://"+server.Address.Address, connect.WithGRPC())
	answer, err := client.Write(t.Context(), &v1.WriteRequest{Writes: []*v1.Write{{
		Kind: "prospect", Sets: []*v1.Set{{Field: "name", Text: "Orrin Vale"}},
	}}})
	if err != nil {
		t.Fatal(err)
	}
	shown, err := client.Get(t.Context(), &v1.GetRequest{Record: answer.GetRecords()[0]})
	if err != nil || shown.GetRecord().GetKind() != "prospect" {
		t.Errorf("got %v, %v", shown.GetRecord(), err)
	}
	stream, err := client.Watch(t.Context(), &v1.WatchRequest{})
	if err != nil {
		t.Fatal(err)
	}
	defer stream.Close()
	if !stream.Receive() || stream.Msg().GetStateHash() == "" {
		t.Errorf("the watch began with %v, %v", stream.Msg(), stream.Err())
	}
}

func TestReflection(t *testing.T) {
	server := served(t)
	client := grpcreflect.NewClient(grpcTools(server), "http://"+server.Address.Address, connect.WithGRPC())
	stream := client.NewStream(t.Context())
	defer stream.Close()
	names, err := stream.ListServices()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		plumblinev1connect.LedgerServiceName, plumblinev1connect.StaffServiceName, plumblinev1connect.NodeServiceName,
	} {
		if !slices.Contains(names, protoreflect.FullName(want)) {
			t.Errorf("reflection names %v, without %s", names, want)
		}
	}
	if _, err := stream.FileContainingSymbol("plumbline.v1.Record"); err != nil {
		t.Errorf("the schema of a record: %v", err)
	}
}
