package web_test

import (
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"plumbline/node/web"
)

func get(t *testing.T, path string, header map[string]string) *httptest.ResponseRecorder {
	t.Helper()
	h, err := web.NewHandler()
	if err != nil {
		t.Fatal(err)
	}
	r := httptest.NewRequest(http.MethodGet, path, nil)
	for name, value := range header {
		r.Header.Set(name, value)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

var nonce = regexp.MustCompile(`style-src 'self' 'nonce-([A-Z2-7]{26})'`)

// Directives as in the W3C's Content Security Policy, level 3.
func TestPageIsClosed(t *testing.T) {
	first, second := get(t, "/", nil), get(t, "/", nil)
	policy := first.Header().Get("Content-Security-Policy")
	for _, part := range []string{"default-src 'none'", "script-src 'self';", "frame-ancestors 'none'", "base-uri 'none'", "connect-src 'self'"} {
		if !strings.Contains(policy, part) {
			t.Errorf("the policy lacks %s: %s", part, policy)
		}
	}
	word := nonce.FindStringSubmatch(policy)
	if word == nil {
		t.Fatalf("the policy has no word for styles: %s", policy)
	}
	if !strings.Contains(first.Body.String(), word[1]) || strings.Contains(second.Body.String(), word[1]) {
		t.Error("the word for styles isn't that of this answer alone")
	}
	if strings.Contains(first.Body.String(), "<style") || regexp.MustCompile(`<script[^>]*>[^<]`).MatchString(first.Body.String()) {
		t.Error("the page has scripts or styles in it: they belong into files")
	}
}

// Every file that the page names is there, under a name that stays.
func TestFilesOfThePage(t *testing.T) {
	names := regexp.MustCompile(`(?:src|href)="(/[^"]*)"`).FindAllStringSubmatch(get(t, "/", nil).Body.String(), -1)
	if len(names) < 2 {
		t.Fatalf("the page names %d files", len(names))
	}
	for _, name := range names {
		w := get(t, name[1], nil)
		if w.Code != http.StatusOK || w.Body.Len() == 0 || w.Header().Get("Content-Type") == "" {
			t.Errorf("%s: %d, %d bytes of type %q", name[1], w.Code, w.Body.Len(), w.Header().Get("Content-Type"))
		}
		again := get(t, name[1], map[string]string{"If-None-Match": w.Header().Get("ETag")})
		if again.Code != http.StatusNotModified || again.Body.Len() != 0 {
			t.Errorf("%s that the browser has: %d, %d bytes", name[1], again.Code, again.Body.Len())
		}
	}
	if w := get(t, "/assets/nowhere.js", nil); w.Code != http.StatusNotFound {
		t.Errorf("a missing file: %d", w.Code)
	}
}

func TestServesItsOwnAlone(t *testing.T) {
	h, err := web.NewHandler()
	if err != nil {
		t.Fatal(err)
	}
	for target, want := range map[string]bool{
		"GET /": true, "HEAD /": true, "GET /prospects/abc": true, "GET /assets/app.js": true,
		"POST /": false, "GET /plumbline.v1.LedgerService/Write": false, "GET /grpc.health.v1.Health/Check": false,
	} {
		method, path, _ := strings.Cut(target, " ")
		if got := h.Serves(httptest.NewRequest(method, path, nil)); got != want {
			t.Errorf("%s: %v, want %v", target, got, want)
		}
	}
}
