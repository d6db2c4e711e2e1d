package rpc_test

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"path/filepath"
	"strings"
	"testing"

	"plumbline/node"
	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

// *node.Node is what the handlers are made for.
var _ rpc.Node = (*node.Node)(nil)

// folders are a laptop's, empty at first.
type folders struct{ data, state string }

func newFolders(t testing.TB) folders {
	dir := t.TempDir()
	return folders{data: filepath.Join(dir, "data"), state: filepath.Join(dir, "state")}
}

// open opens a node, which the test's end closes.
func (f folders) open(t testing.TB) *node.Node {
	t.Helper()
	return f.openWith(t, nil)
}

// openWith opens a node that others can link with.
func (f folders) openWith(t testing.TB, links *node.Links) *node.Node {
	t.Helper()
	n, err := node.Open(t.Context(), node.Config{Data: f.data, State: f.state, Version: "test", Links: links})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := n.Close(); err != nil {
			t.Errorf("closing the node: %v", err)
		}
	})
	return n
}

// founded opens a node with a staff of one. All names are invented.
func (f folders) founded(t testing.TB) *node.Node {
	t.Helper()
	n := f.open(t)
	if _, _, err := n.Found(t.Context(), "Harrow County", "Mara Quill", "mara"); err != nil {
		t.Fatal(err)
	}
	return n
}

func (f folders) serve(t testing.TB, n rpc.Node, port int) *rpc.Server {
	t.Helper()
	server, err := rpc.Serve(n, rpc.Options{Data: f.data, State: f.state, Port: port})
	if err != nil {
		t.Fatal(err)
	}
	return server
}

// served is a founded node on a port of its own.
func served(t testing.TB) *rpc.Server {
	t.Helper()
	f := newFolders(t)
	server := f.serve(t, f.founded(t), 0)
	t.Cleanup(func() {
		if err := server.Close(); err != nil {
			t.Errorf("closing the server: %v", err)
		}
	})
	return server
}

// request is a call as curl makes it.
type request struct {
	server *rpc.Server
	method string // POST if empty
	path   string
	body   string
	header map[string]string
	host   string // what the request says, not where it goes
}

func (r request) do(t *testing.T) (int, http.Header, []byte) {
	t.Helper()
	method := r.method
	if method == "" {
		method = http.MethodPost
	}
	req, err := http.NewRequestWithContext(t.Context(), method, "http://"+r.server.Address.Address+r.path, strings.NewReader(r.body))
	if err != nil {
		t.Fatal(err)
	}
	req.Close = true // another server may have the port next: curl keeps no connection either
	req.Header.Set("Content-Type", "application/json")
	req.Header.Set("Authorization", "Bearer "+r.server.Address.Token)
	for name, value := range r.header {
		if value == "" {
			req.Header.Del(name)
			continue
		}
		req.Header.Set(name, value)
	}
	if r.host != "" {
		req.Host = r.host
	}
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp.StatusCode, resp.Header, body
}

func fromJSON(t *testing.T, data []byte) map[string]any {
	t.Helper()
	var made map[string]any
	if err := json.NewDecoder(bytes.NewReader(data)).Decode(&made); err != nil {
		t.Fatalf("%v in %s", err, data)
	}
	return made
}

// addProspect adds one and returns its id.
func addProspect(t *testing.T, ctx context.Context, c *rpc.Client, name string) string {
	t.Helper()
	answer, err := c.Ledger.Write(ctx, &v1.WriteRequest{Writes: []*v1.Write{{
		Kind: "prospect", Sets: []*v1.Set{{Field: "name", Text: name}},
	}}})
	if err != nil {
		t.Fatal(err)
	}
	return answer.GetRecords()[0]
}
