package rpc_test

import (
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"plumbline/node/rpc"
)

// launchToken takes the token out of the address that opens the page.
func launchToken(t *testing.T, server *rpc.Server) string {
	t.Helper()
	address, err := server.Launch()
	if err != nil {
		t.Fatal(err)
	}
	token, ok := strings.CutPrefix(address, "http://"+server.Address.Address+"/#launch=")
	if !ok || len(token) != 64 {
		t.Fatalf("the page's address is %q", address)
	}
	return token
}

func bearing(token string) map[string]string {
	return map[string]string{"Authorization": "Bearer " + token}
}

// buySession posts a launch token and gives the answer.
func buySession(t *testing.T, server *rpc.Server, header map[string]string) (int, string) {
	t.Helper()
	status, _, body := request{server: server, path: "/session", header: header}.do(t)
	return status, string(body)
}

func TestLaunchTokenWorksOnce(t *testing.T) {
	server := served(t)
	launch := launchToken(t, server)
	if status, _, _ := (request{server: server, path: statusPath, body: "{}", header: bearing(launch)}).do(t); status != http.StatusUnauthorized {
		t.Errorf("a launch token opens the API itself: %d", status)
	}
	status, session := buySession(t, server, bearing(launch))
	if status != http.StatusOK || len(session) != 64 || session == launch || session == server.Address.Token {
		t.Fatalf("got %d %q", status, session)
	}
	if status, _, body := (request{server: server, path: statusPath, body: "{}", header: bearing(session)}).do(t); status != http.StatusOK {
		t.Errorf("the session is refused: %d %s", status, body)
	}
	if status, answer := buySession(t, server, bearing(launch)); status != http.StatusUnauthorized || !strings.Contains(answer, "plumbline open") {
		t.Errorf("used again: %d %q", status, answer)
	}
}

func TestWhoGetsASession(t *testing.T) {
	server := served(t)
	for name, header := range map[string]map[string]string{
		"no token":             {"Authorization": ""},
		"an empty token":       bearing(""),
		"a guessed token":      bearing(strings.Repeat("0", 64)),
		"the program's token":  bearing(server.Address.Token),
		"the token as a word":  {"Authorization": launchToken(t, server)},
		"the token, and more":  bearing(launchToken(t, server) + "0"),
		"the token in capital": bearing(strings.ToUpper(launchToken(t, server))),
	} {
		if status, answer := buySession(t, server, header); status != http.StatusUnauthorized {
			t.Errorf("%s: got %d %s, want 401", name, status, answer)
		}
	}
	launch := launchToken(t, server)
	for name, extra := range map[string][2]string{
		"another site": {"Sec-Fetch-Site", "cross-site"}, "another port": {"Sec-Fetch-Site", "same-site"}, "a sandbox": {"Origin", "null"},
	} {
		header := bearing(launch)
		header[extra[0]] = extra[1]
		if status, _ := buySession(t, server, header); status != http.StatusForbidden {
			t.Errorf("%s: got %d, want 403", name, status)
		}
	}
	if status, _, _ := (request{server: server, method: http.MethodGet, path: "/session", header: bearing(launch)}).do(t); status != http.StatusMethodNotAllowed {
		t.Errorf("by GET: got %d, want 405", status)
	}
	if status, _ := buySession(t, server, bearing(launch)); status != http.StatusOK {
		t.Errorf("after all these it should still work once: %d", status)
	}
}

// Whoever opens many pages loses the oldest addresses, not the memory.
func TestOldLaunchTokensEnd(t *testing.T) {
	server := served(t)
	oldest := launchToken(t, server)
	for range 8 {
		launchToken(t, server)
	}
	if status, _ := buySession(t, server, bearing(oldest)); status != http.StatusUnauthorized {
		t.Errorf("got %d, want 401", status)
	}
}

func TestSessionOutlivesTheNode(t *testing.T) {
	f := newFolders(t)
	n := f.founded(t)
	server := f.serve(t, n, freePort(t))
	launch := launchToken(t, server)
	_, session := buySession(t, server, bearing(launchToken(t, server)))
	if err := server.Close(); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(f.state, "sessions.json")
	kept, err := os.ReadFile(file)
	if err != nil || strings.Contains(string(kept), session) {
		t.Errorf("the file should hold hashes only: %v\n%s", err, kept)
	}
	if info, err := os.Stat(file); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the file's mode: %v, %v", info, err)
	}

	again := f.serve(t, n, 0)
	if status, _, _ := (request{server: again, path: statusPath, body: "{}", header: bearing(session)}).do(t); status != http.StatusOK {
		t.Errorf("after a restart the session is refused: %d", status)
	}
	if status, _ := buySession(t, again, bearing(launch)); status != http.StatusUnauthorized {
		t.Errorf("a launch token of the last start: got %d, want 401", status)
	}
	if err := again.Close(); err != nil {
		t.Fatal(err)
	}

	if err := os.WriteFile(file, []byte(`["damaged`), 0o600); err != nil {
		t.Fatal(err)
	}
	last := f.serve(t, n, 0)
	defer last.Close()
	if status, _, _ := (request{server: last, path: statusPath, body: "{}", header: bearing(session)}).do(t); status != http.StatusUnauthorized {
		t.Errorf("without its note the session opens: %d", status)
	}
}

// Only a program that can read the state folder asks for an address.
func TestAskingForAnAddress(t *testing.T) {
	server := served(t)
	client := rpc.Dial(server.Address)
	defer client.Close()
	address, err := client.Launch(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	_, launch, _ := strings.Cut(address, "#launch=")
	_, session := buySession(t, server, bearing(launch))
	for name, header := range map[string]map[string]string{
		"a session": bearing(session), "a launch token": bearing(launchToken(t, server)), "nobody": {"Authorization": ""},
	} {
		if status, _, _ := (request{server: server, path: "/launch", header: header}).do(t); status == http.StatusOK {
			t.Errorf("%s is given an address", name)
		}
	}
}

// The page is read without a token; everything else about a request is looked
// at all the same.
func TestThePageNeedsNoToken(t *testing.T) {
	server := served(t)
	get := func(path, host string, header map[string]string) (int, http.Header) {
		header["Authorization"] = ""
		status, answer, _ := request{server: server, method: http.MethodGet, path: path, host: host, header: header}.do(t)
		return status, answer
	}
	for _, path := range []string{"/", "/conflicts", "/prospects/abc"} {
		status, header := get(path, "", map[string]string{})
		if status != http.StatusOK || !strings.HasPrefix(header.Get("Content-Type"), "text/html") {
			t.Errorf("%s: got %d %s", path, status, header.Get("Content-Type"))
		}
	}
	if status, _ := get("/", "films.example", map[string]string{}); status != http.StatusMisdirectedRequest {
		t.Errorf("by a rebound name: got %d, want 421", status)
	}
	if status, _ := get("/", "", map[string]string{"Sec-Fetch-Site": "cross-site"}); status != http.StatusForbidden {
		t.Errorf("from another site: got %d, want 403", status)
	}
	if status, _ := get(statusPath, "", map[string]string{}); status != http.StatusUnauthorized {
		t.Errorf("the API by GET: got %d, want 401", status)
	}
}
