package rpc_test

import (
	"net"
	"net/http"
	"strings"
	"testing"
)

const (
	statusPath = "/plumbline.v1.NodeService/Status"
	writePath  = "/plumbline.v1.LedgerService/Write"
	getPath    = "/plumbline.v1.LedgerService/Get"
	watchPath  = "/plumbline.v1.LedgerService/Watch"
)

// Status codes: 421 by RFC 9110 section 15.5.20, 401 and 403 by sections 15.5.2
// and 15.5.4; Sec-Fetch-Site's values by the W3C's Fetch Metadata.
func TestWhoMayCall(t *testing.T) {
	server := served(t)
	_, port, err := net.SplitHostPort(server.Address.Address)
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		host   string
		header map[string]string
		want   int
	}{
		"a program":                       {want: http.StatusOK},
		"by localhost":                    {host: "localhost:" + port, want: http.StatusOK},
		"the page itself":                 {header: map[string]string{"Sec-Fetch-Site": "same-origin", "Origin": "http://127.0.0.1:" + port}, want: http.StatusOK},
		"typed into the address bar":      {header: map[string]string{"Sec-Fetch-Site": "none"}, want: http.StatusOK},
		"a rebound name":                  {host: "films.example:" + port, want: http.StatusMisdirectedRequest},
		"our address without the port":    {host: "127.0.0.1", want: http.StatusMisdirectedRequest},
		"our address with another port":   {host: "127.0.0.1:1", want: http.StatusMisdirectedRequest},
		"our name in another case":        {host: "LOCALHOST:" + port, want: http.StatusMisdirectedRequest},
		"another site":                    {header: map[string]string{"Sec-Fetch-Site": "cross-site"}, want: http.StatusForbidden},
		"another port of this machine":    {header: map[string]string{"Sec-Fetch-Site": "same-site"}, want: http.StatusForbidden},
		"another origin, an old browser":  {header: map[string]string{"Origin": "http://films.example"}, want: http.StatusForbidden},
		"another port, an old browser":    {header: map[string]string{"Origin": "http://127.0.0.1:1"}, want: http.StatusForbidden},
		"a page in a sandbox":             {header: map[string]string{"Origin": "null"}, want: http.StatusForbidden},
		"our origin, but over TLS":        {header: map[string]string{"Origin": "https://127.0.0.1:" + port}, want: http.StatusForbidden},
		"no token":                        {header: map[string]string{"Authorization": ""}, want: http.StatusUnauthorized},
		"another token":                   {header: map[string]string{"Authorization": "Bearer " + strings.Repeat("0", 64)}, want: http.StatusUnauthorized},
		"the start of the token":          {header: map[string]string{"Authorization": "Bearer " + server.Address.Token[:32]}, want: http.StatusUnauthorized},
		"the token, more behind it":       {header: map[string]string{"Authorization": "Bearer " + server.Address.Token + "0"}, want: http.StatusUnauthorized},
		"the token as a password":         {header: map[string]string{"Authorization": "Basic " + server.Address.Token}, want: http.StatusUnauthorized},
		"the token alone":                 {header: map[string]string{"Authorization": server.Address.Token}, want: http.StatusUnauthorized},
		"the scheme in small letters":     {header: map[string]string{"Authorization": "bearer " + server.Address.Token}, want: http.StatusOK},
		"a cross-site call with a token":  {header: map[string]string{"Sec-Fetch-Site": "cross-site"}, want: http.StatusForbidden},
		"a rebound name without a token":  {host: "films.example:" + port, header: map[string]string{"Authorization": ""}, want: http.StatusMisdirectedRequest},
		"the token in a cookie, as films": {header: map[string]string{"Authorization": "", "Cookie": "token=" + server.Address.Token}, want: http.StatusUnauthorized},
	} {
		status, header, body := request{server: server, path: statusPath, body: "{}", host: c.host, header: c.header}.do(t)
		if status != c.want {
			t.Errorf("%s: got %d %s, want %d", name, status, body, c.want)
		}
		for _, cors := range []string{"Access-Control-Allow-Origin", "Access-Control-Allow-Headers"} {
			if header.Get(cors) != "" {
				t.Errorf("%s: the answer has %s", name, cors)
			}
		}
	}
}

// Reflection and health tell what is served and that it is: they ask for the
// token as well. Only reading the page's files needs none.
func TestTokenIsAskedForEverywhere(t *testing.T) {
	server := served(t)
	for _, path := range []string{
		"/grpc.health.v1.Health/Check", "/grpc.reflection.v1.ServerReflection/ServerReflectionInfo",
		"/grpc.reflection.v1alpha.ServerReflection/ServerReflectionInfo", "/", "/nowhere",
	} {
		status, _, _ := request{server: server, path: path, body: "{}", header: map[string]string{"Authorization": ""}}.do(t)
		if status != http.StatusUnauthorized {
			t.Errorf("%s without a token: got %d, want 401", path, status)
		}
	}
	status, _, body := request{server: server, path: "/grpc.health.v1.Health/Check", body: "{}"}.do(t)
	if status != http.StatusOK || !strings.HasSuffix(fromJSON(t, body)["status"].(string), "SERVING") {
		t.Errorf("health with the token: got %d %s", status, body)
	}
}

// The refusal of a token is an error of the Connect protocol, with a sentence.
func TestTokenSentence(t *testing.T) {
	_, header, body := request{server: served(t), path: statusPath, body: "{}", header: map[string]string{"Authorization": ""}}.do(t)
	answer := fromJSON(t, body)
	if answer["code"] != "unauthenticated" || !strings.Contains(answer["message"].(string), "api.json") {
		t.Errorf("got %s", body)
	}
	if header.Get("WWW-Authenticate") != "Bearer" {
		t.Errorf("WWW-Authenticate is %q, and RFC 9110 section 11.6.1 wants a challenge with 401", header.Get("WWW-Authenticate"))
	}
}

// A page can cause a GET, and a POST of a form, without asking.
func TestNothingByGetOrForm(t *testing.T) {
	server := served(t)
	status, _, _ := request{server: server, method: http.MethodGet, path: statusPath + "?connect=v1&encoding=json&message=%7B%7D"}.do(t)
	if status != http.StatusMethodNotAllowed {
		t.Errorf("GET: got %d, want 405", status)
	}
	for _, content := range []string{"text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x"} {
		status, _, _ := request{server: server, path: statusPath, body: "{}", header: map[string]string{"Content-Type": content}}.do(t)
		if status != http.StatusUnsupportedMediaType {
			t.Errorf("%s: got %d, want 415", content, status)
		}
	}
}
