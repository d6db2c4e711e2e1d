package rpc_test

import (
	"io"
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
	token, ok := strings.CutPrefix(address, "http://"+server.Address.Address+"/open#launch=")
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

// A stream of a session that ends must not go on, nor may an address that is on
// its way be used.
func TestSessionsEnd(t *testing.T) {
	server := served(t)
	_, session := buySession(t, server, bearing(launchToken(t, server)))
	unused := launchToken(t, server)
	stream, err := http.NewRequestWithContext(t.Context(), http.MethodPost, "http://"+server.Address.Address+watchPath, strings.NewReader("\x00\x00\x00\x00\x02{}"))
	if err != nil {
		t.Fatal(err)
	}
	stream.Header = http.Header{"Content-Type": {"application/connect+json"}, "Authorization": {"Bearer " + session}}
	answer, err := http.DefaultClient.Do(stream)
	if err != nil || answer.StatusCode != http.StatusOK {
		t.Fatal(answer, err)
	}
	defer answer.Body.Close()

	if status, _, _ := (request{server: server, method: http.MethodDelete, path: "/session", header: bearing(session)}).do(t); status == http.StatusNoContent {
		t.Error("a browser lets others out")
	}
	client := rpc.Dial(server.Address)
	defer client.Close()
	if err := client.EndSessions(t.Context()); err != nil {
		t.Fatal(err)
	}
	if rest, err := io.ReadAll(answer.Body); err != nil || !strings.Contains(string(rest), "stateHash") {
		t.Errorf("the stream: %v, %q", err, rest)
	}
	if status, _, _ := (request{server: server, path: statusPath, body: "{}", header: bearing(session)}).do(t); status != http.StatusUnauthorized {
		t.Errorf("the session that ended: got %d, want 401", status)
	}
	if status, _ := buySession(t, server, bearing(unused)); status != http.StatusUnauthorized {
		t.Errorf("the address that wasn't used: got %d, want 401", status)
	}
	if status, _ := buySession(t, server, bearing(launchToken(t, server))); status != http.StatusOK {
		t.Errorf("a new one: got %d", status)
	}
}

// The oldest of too many browsers is let out.
func TestOldSessionsEnd(t *testing.T) {
	server := served(t)
	_, oldest := buySession(t, server, bearing(launchToken(t, server)))
	var newest string
	for range 32 {
		if status, _, body := (request{server: server, path: statusPath, body: "{}", header: bearing(oldest)}).do(t); status != http.StatusOK {
			t.Fatalf("ended early: %d %s", status, body)
		}
		_, newest = buySession(t, server, bearing(launchToken(t, server)))
	}
	for session, want := range map[string]int{oldest: http.StatusUnauthorized, newest: http.StatusOK} {
		if status, _, _ := (request{server: server, path: statusPath, body: "{}", header: bearing(session)}).do(t); status != want {
			t.Errorf("got %d, want %d", status, want)
		}
	}
}

// The file that a browser is given holds the address, and is for its owner alone.
func TestHandOver(t *testing.T) {
	server, state := served(t), t.TempDir()
	for range 2 {
		address, err := server.Launch()
		if err != nil {
			t.Fatal(err)
		}
		file, err := rpc.HandOver(state, address)
		if err != nil || filepath.Dir(file) != state {
			t.Fatal(file, err)
		}
		if info, err := os.Stat(file); err != nil || info.Mode().Perm() != 0o600 {
			t.Errorf("the file's mode: %v, %v", info, err)
		}
		content, err := os.ReadFile(file)
		if err != nil || strings.Count(string(content), address) != 2 || strings.Count(string(content), "#launch=") != 2 {
			t.Errorf("want %s, twice and no other, %v:\n%s", address, err, content)
		}
	}
}

// A link or a file may lead to one address of the page; it may not be framed,
// fetched or posted to. Sec-Fetch-Mode and Sec-Fetch-Dest by the W3C's Fetch
// Metadata.
func TestArriving(t *testing.T) {
	server := served(t)
	from := func(extra ...string) map[string]string {
		header := map[string]string{"Authorization": "", "Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "document"}
		for i := 0; i < len(extra); i += 2 {
			header[extra[i]] = extra[i+1]
		}
		return header
	}
	for name, c := range map[string]struct {
		method, path string
		header       map[string]string
		want         int
	}{
		"a window":          {http.MethodGet, "/open", from(), http.StatusOK},
		"a frame":           {http.MethodGet, "/open", from("Sec-Fetch-Dest", "iframe"), http.StatusForbidden},
		"a call":            {http.MethodGet, "/open", from("Sec-Fetch-Mode", "cors", "Sec-Fetch-Dest", "empty"), http.StatusForbidden},
		"a picture":         {http.MethodGet, "/open", from("Sec-Fetch-Mode", "no-cors", "Sec-Fetch-Dest", "image"), http.StatusForbidden},
		"a form":            {http.MethodPost, "/open", from("Origin", "http://films.example"), http.StatusForbidden},
		"a form, null":      {http.MethodPost, "/open", from("Origin", "null"), http.StatusForbidden},
		"another screen":    {http.MethodGet, "/conflicts", from(), http.StatusForbidden},
		"below it":          {http.MethodGet, "/open/er", from(), http.StatusForbidden},
		"an old browser":    {http.MethodGet, "/open", map[string]string{"Authorization": ""}, http.StatusOK},
		"without its modes": {http.MethodGet, "/open", from("Sec-Fetch-Mode", "", "Sec-Fetch-Dest", ""), http.StatusForbidden},
	} {
		status, _, body := request{server: server, method: c.method, path: c.path, header: c.header}.do(t)
		if status != c.want {
			t.Errorf("%s: got %d %.80s, want %d", name, status, body, c.want)
		}
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
