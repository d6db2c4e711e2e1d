package rpc_test

import (
	"bufio"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"plumbline/node/rpc"
)

// newProspect is a call that writes, if anybody lets it.
const newProspect = `{"writes":[{"kind":"prospect","sets":[{"field":"name","text":"Orrin Vale"}]}]}`

// heldBy counts a laptop's entries.
func heldBy(t *testing.T, server *rpc.Server) any {
	t.Helper()
	status, _, body := request{server: server, path: statusPath, body: "{}"}.do(t)
	if status != http.StatusOK {
		t.Fatalf("status: %d %s", status, body)
	}
	answer := fromJSON(t, body)
	return [2]any{answer["entries"], answer["stateHash"]}
}

// Whoever isn't let in changes nothing: each of these carries a write that holds.
func TestWhatIsRefusedChangesNothing(t *testing.T) {
	server := served(t)
	used := launchToken(t, server)
	if status, _ := buySession(t, server, bearing(used)); status != http.StatusOK {
		t.Fatalf("the launch token doesn't work: %d", status)
	}
	before := heldBy(t, server)
	for name, r := range map[string]request{
		"a rebound name":           {host: "evil.example"},
		"a rebound name, our port": {host: "evil.example:" + server.Address.Address[strings.LastIndex(server.Address.Address, ":")+1:]},
		"a cross-site POST":        {header: map[string]string{"Sec-Fetch-Site": "cross-site", "Origin": "http://evil.example"}},
		"a cross-site form":        {header: map[string]string{"Sec-Fetch-Site": "cross-site", "Content-Type": "text/plain"}},
		"an old browser's form":    {header: map[string]string{"Content-Type": "application/x-www-form-urlencoded"}},
		"a cross-site GET":         {method: http.MethodGet, header: map[string]string{"Sec-Fetch-Site": "cross-site"}},
		"a GET by address":         {method: http.MethodGet},
		"the null Origin":          {header: map[string]string{"Origin": "null"}},
		"a launch token, replayed": {header: bearing(used)},
		"a launch token, unused":   {header: bearing(launchToken(t, server))},
		"no token":                 {header: map[string]string{"Authorization": ""}},
	} {
		r.server, r.body = server, newProspect
		if r.path = writePath; r.method == http.MethodGet {
			r.path += "?connect=v1&encoding=json&message=" + strings.NewReplacer(`"`, "%22", "{", "%7B", "}", "%7D", " ", "%20").Replace(newProspect)
		}
		if status, _, body := r.do(t); status < 400 || status > 499 {
			t.Errorf("%s: got %d %s, want a refusal", name, status, body)
		}
		if after := heldBy(t, server); after != before {
			t.Errorf("%s has changed something: %v, before %v", name, after, before)
		}
	}
	if status, _, body := (request{server: server, path: writePath, body: newProspect}).do(t); status != http.StatusOK {
		t.Fatalf("the write itself doesn't hold: %d %s", status, body) // else this test shows nothing
	}
	if heldBy(t, server) == before {
		t.Error("the write itself changes nothing")
	}
}

// No path leads out of the page's files, however it is written (the ways of
// CWE-22, and of RFC 3986 sections 2.1 and 5.2.4).
func TestNoPathLeadsOut(t *testing.T) {
	f := newFolders(t)
	server := f.serve(t, f.founded(t), 0)
	t.Cleanup(func() { server.Close() })
	secret, err := os.ReadFile(filepath.Join(f.state, "identity.json"))
	if err != nil {
		t.Fatal(err)
	}
	deep := strings.Repeat("../", 20)
	state := strings.TrimPrefix(filepath.ToSlash(f.state), "/")
	for _, path := range []string{
		"/" + deep + "etc/passwd", "/" + deep + state + "/identity.json", "//" + state + "/identity.json",
		"/assets/" + deep + state + "/identity.json", "/assets/" + strings.ReplaceAll(deep, "/", "%2f") + state + "/identity.json",
		"/%2e%2e/" + strings.ReplaceAll(deep, "..", "%2e%2e") + state + "/identity.json",
		"/..%5c..%5c" + state + "/identity.json", "/assets/..\\..\\" + state + "/identity.json",
		"/assets/app.js%00/../../" + state + "/identity.json", "/file:///" + state + "/identity.json",
		"http://" + server.Address.Address + "/" + deep + state + "/identity.json", "/assets/....//....//" + state + "/identity.json",
		"/" + state + "/identity.json", "/dist/../../../go.mod",
	} {
		status, body := rawGet(t, server, path)
		// An address that is no file's is a screen of the page.
		isPage := status == http.StatusOK && strings.Contains(body, "<!doctype html>")
		if status < 300 && !isPage {
			t.Errorf("%s: got %d and %.80q", path, status, body)
		}
		if strings.Contains(body, string(secret)) || strings.Contains(body, "device_key") || strings.Contains(body, "root:") {
			t.Errorf("%s hands out a file of the machine", path)
		}
	}
}

// rawGet sends a path as it stands, which no client library does.
func rawGet(t *testing.T, server *rpc.Server, path string) (int, string) {
	t.Helper()
	conn, err := net.Dial("tcp", server.Address.Address)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	fmt.Fprintf(conn, "GET %s HTTP/1.1\r\nHost: %s\r\nConnection: close\r\n\r\n", path, server.Address.Address)
	resp, err := http.ReadResponse(bufio.NewReader(conn), nil)
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	return resp.StatusCode, string(body)
}
