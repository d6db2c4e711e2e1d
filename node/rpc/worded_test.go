package rpc_test

import (
	"net"
	"strings"
	"testing"

	"plumbline/node"
)

// A person reads what the page is told; a program is told what the system said.
func TestThePageIsToldInPlainWords(t *testing.T) {
	f := newFolders(t)
	n := f.openWith(t, &node.Links{Host: "127.0.0.1", Port: -1})
	if _, _, err := n.Found(t.Context(), "Harrow County", "Mara Quill", "mara"); err != nil {
		t.Fatal(err)
	}
	server := f.serve(t, n, 0)
	t.Cleanup(func() {
		if err := server.Close(); err != nil {
			t.Errorf("closing the server: %v", err)
		}
	})
	closed, err := net.Listen("tcp4", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := closed.Addr().String()
	if err := closed.Close(); err != nil {
		t.Fatal(err)
	}
	_, session := buySession(t, server, bearing(launchToken(t, server)))
	call := request{server: server, path: "/plumbline.v1.NodeService/Connect", body: `{"address":"` + address + `"}`}
	_, _, raw := call.do(t)
	program := string(raw)
	call.header = bearing(session)
	_, _, raw = call.do(t)
	page := string(raw)
	if !strings.Contains(program, "(connect: connection refused)") {
		t.Errorf("a program is told %s", program)
	}
	if !strings.Contains(page, "nobody can be reached at "+address+" (nothing listens there)") {
		t.Errorf("the page is told %s", page)
	}
}
