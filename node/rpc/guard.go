package rpc

import (
	"context"
	"crypto/sha256"
	"crypto/subtle"
	"errors"
	"fmt"
	"net/http"
	"strings"

	"connectrpc.com/connect"
)

// guard says who may call. Any page in a browser, and any program of any user
// of the machine, can reach a loopback port. So a call must
//
//   - name exactly this address as its host, so that a stranger's name that was
//     pointed at 127.0.0.1 gets nothing (421);
//   - not come from another site, by what the browser says of it in
//     Sec-Fetch-Site and Origin (403). Another port of this machine is another
//     site too. There are no CORS headers. One address alone may be gone to from
//     elsewhere, as a window of its own: what it shows is the same for everybody,
//     and its policy cuts it off from who sent the browser there;
//   - carry the token of this start, which only the user can read, or that of a
//     session (sessions.go), as "Authorization: Bearer …" (401): no cookie,
//     since cookies are shared by all ports. Reflection and health ask for it
//     too; grpcurl and buf curl send the same headers there.
//
// The page's files are handed out without a token: a browser that opens an
// address has none yet, and they are the same for everybody.
type guard struct {
	hosts    []string
	token    [sha256.Size]byte
	sessions *sessions
	page     page
	errors   *connect.ErrorWriter
	next     http.Handler
}

// page is the handler of the page's files, and tells what is its own.
type page interface {
	http.Handler
	Serves(*http.Request) bool
}

func newGuard(hosts []string, token string, s *sessions, p page, next http.Handler) *guard {
	return &guard{
		hosts: hosts, token: sha256.Sum256([]byte(token)), sessions: s, page: p, errors: connect.NewErrorWriter(), next: next,
	}
}

func (g *guard) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	switch {
	case !g.isOurs(r.Host):
		refuseHTTP(w, http.StatusMisdirectedRequest, fmt.Sprintf("this is %s, not %q: call it by that address", g.hosts[0], r.Host))
	case !g.fromHere(r.Header) && !arrives(r):
		refuseHTTP(w, http.StatusForbidden, "calls from other sites are refused: open the page at http://"+g.hosts[0])
	case r.URL.Path == sessionPath && r.Method == http.MethodDelete && g.isProgram(r.Header):
		g.sessions.serveEnd(w)
	case r.URL.Path == sessionPath:
		g.sessions.serveSession(w, r)
	case r.URL.Path == launchPath && g.isProgram(r.Header):
		g.sessions.serveLaunch(w, r)
	case g.page.Serves(r):
		g.page.ServeHTTP(w, r)
	case g.isProgram(r.Header):
		g.next.ServeHTTP(w, r)
	default:
		g.serveBrowser(w, r)
	}
}

// serveBrowser lets a call last as long as its session: a stream would outlive it
// otherwise.
func (g *guard) serveBrowser(w http.ResponseWriter, r *http.Request) {
	session, ok := g.sessions.holds(bearerOf(r.Header))
	if !ok {
		g.refuseToken(w, r)
		return
	}
	ctx, cancel := context.WithCancel(context.WithValue(r.Context(), byBrowser{}, true))
	defer cancel()
	defer context.AfterFunc(session, cancel)()
	g.next.ServeHTTP(w, r.WithContext(ctx))
}

func (g *guard) isOurs(host string) bool {
	for _, ours := range g.hosts {
		if host == ours {
			return true
		}
	}
	return false
}

// fromHere looks at what browsers add, which no page can change. Programs add
// neither header.
func (g *guard) fromHere(header http.Header) bool {
	switch header.Get("Sec-Fetch-Site") {
	case "", "none", "same-origin":
	default:
		return false
	}
	origins, ok := header["Origin"]
	if !ok {
		return true
	}
	host, isHTTP := strings.CutPrefix(strings.Join(origins, ","), "http://")
	return isHTTP && g.isOurs(host)
}

// arrives tells whether a browser goes to the page in a window of its own, in no
// frame, with nothing but the address (Fetch Metadata, mode and destination).
func arrives(r *http.Request) bool {
	return r.Method == http.MethodGet && r.URL.Path == arrivalPath && r.Header.Get("Origin") == "" &&
		r.Header.Get("Sec-Fetch-Mode") == "navigate" && r.Header.Get("Sec-Fetch-Dest") == "document"
}

// isProgram looks for the token of the state folder. It compares hashes, so that
// neither length nor time tells anything.
func (g *guard) isProgram(header http.Header) bool {
	sum := sha256.Sum256([]byte(bearerOf(header)))
	return subtle.ConstantTimeCompare(sum[:], g.token[:]) == 1
}

// refuseToken answers in the caller's protocol, so that clients show the
// sentence.
func (g *guard) refuseToken(w http.ResponseWriter, r *http.Request) {
	const sentence = "the token is missing or not that of the running node: send \"Authorization: Bearer TOKEN\" " +
		"with the token in " + addressFile + " in the state folder; it is new at each start"
	w.Header().Set("WWW-Authenticate", "Bearer")
	if !g.errors.IsSupported(r) {
		refuseHTTP(w, http.StatusUnauthorized, sentence)
		return
	}
	if err := g.errors.Write(w, r, connect.NewError(connect.CodeUnauthenticated, errors.New(sentence))); err != nil {
		return // the caller is gone
	}
}

func refuseHTTP(w http.ResponseWriter, code int, sentence string) {
	w.Header().Set("X-Content-Type-Options", "nosniff")
	http.Error(w, sentence, code)
}
