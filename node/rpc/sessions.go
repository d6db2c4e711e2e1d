package rpc

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
)

// A browser can't read the token of the state folder. It is given one of its own
// in two steps, so that what stands in an address, in a list of visited pages or
// on a terminal opens nothing for long:
//
//	launch token   made for one opening of the page; it stands behind the # of
//	               the address, which is sent to nobody; it works once
//	session token  what the page gets for it and keeps; it outlives the node, so
//	               that an open page goes on when the node starts again
//
// Hashes of session tokens lie in the state folder; the tokens themselves are in
// the browser only.
const (
	sessionsFile = "sessions.json"
	// SessionPath buys a session token, LaunchPath makes a launch token.
	sessionPath, launchPath = "/session", "/launch"
	// The oldest goes when there are more.
	maxSessions, maxLaunches = 32, 8
)

type tokenHash [sha256.Size]byte

func (h tokenHash) MarshalText() ([]byte, error) { return []byte(hex.EncodeToString(h[:])), nil }

func (h *tokenHash) UnmarshalText(text []byte) error {
	if hex.DecodedLen(len(text)) != len(h) {
		return errors.New("no hash of a token")
	}
	_, err := hex.Decode(h[:], text)
	return err
}

// sessions are the browsers that may call. Tokens are looked up by their hash,
// so that the time it takes tells nothing of them.
type sessions struct {
	state  string
	random io.Reader

	mu       sync.Mutex
	launches []tokenHash
	open     []session // the newest last
}

// session is one browser that was let in. Its calls end when it does.
type session struct {
	hash tokenHash
	ctx  context.Context
	end  context.CancelFunc
}

func newSession(hash tokenHash) session {
	ctx, end := context.WithCancel(context.Background())
	return session{hash, ctx, end}
}

// readSessions begins with none when the file is damaged: a page then asks to be
// opened again, which costs one command.
func readSessions(state string, random io.Reader) (*sessions, error) {
	s := &sessions{state: state, random: random}
	if s.random == nil {
		s.random = rand.Reader
	}
	data, err := os.ReadFile(filepath.Join(state, sessionsFile))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("reading which browsers may call: %w", err)
	}
	var open []tokenHash
	if json.Unmarshal(data, &open) == nil {
		s.open = each(open, newSession)
	}
	return s, nil
}

// launch makes a launch token.
func (s *sessions) launch() (string, error) {
	token, err := newToken(s.random)
	if err != nil {
		return "", err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.launches = keepLast(append(s.launches, sha256.Sum256([]byte(token))), maxLaunches)
	return token, nil
}

// exchange gives a session token for a launch token, once. The session is on the
// disk before it is given.
func (s *sessions) exchange(launch string) (token string, ok bool, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	i := slices.Index(s.launches, tokenHash(sha256.Sum256([]byte(launch))))
	if i < 0 {
		return "", false, nil
	}
	s.launches = slices.Delete(s.launches, i, i+1)
	if token, err = newToken(s.random); err != nil {
		return "", false, err
	}
	open := append(slices.Clone(s.open), newSession(sha256.Sum256([]byte(token))))
	if err := s.replace(keepLast(open, maxSessions)); err != nil {
		return "", false, err
	}
	return token, true, nil
}

// endAll lets every browser out, and makes the addresses worthless that are not
// used yet.
func (s *sessions) endAll() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.launches = nil
	return s.replace(nil)
}

// replace notes on the disk who may call, then ends the sessions that are not
// among them.
func (s *sessions) replace(open []session) error {
	hashes := each(open, func(one session) tokenHash { return one.hash })
	if err := writeState(s.state, sessionsFile, hashes); err != nil {
		return fmt.Errorf("noting which browsers may call: %w", err)
	}
	for _, old := range s.open {
		if !slices.Contains(hashes, old.hash) {
			old.end()
		}
	}
	s.open = open
	return nil
}

// holds gives the context of a session, which ends with it.
func (s *sessions) holds(token string) (context.Context, bool) {
	hash := tokenHash(sha256.Sum256([]byte(token)))
	s.mu.Lock()
	defer s.mu.Unlock()
	i := slices.IndexFunc(s.open, func(one session) bool { return one.hash == hash })
	if i < 0 {
		return nil, false
	}
	return s.open[i].ctx, true
}

func keepLast[T any](list []T, most int) []T { return list[max(0, len(list)-most):] }

// serveSession answers a page that was opened with a launch token, sent as a
// bearer is. The guard has looked at host and origin.
func (s *sessions) serveSession(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodPost {
		refuseHTTP(w, http.StatusMethodNotAllowed, "post the launch token")
		return
	}
	token, ok, err := s.exchange(bearerOf(r.Header))
	switch {
	case err != nil:
		refuseHTTP(w, http.StatusInternalServerError, err.Error())
	case !ok:
		w.Header().Set("WWW-Authenticate", "Bearer")
		refuseHTTP(w, http.StatusUnauthorized, "this address was used already or is old: get a new one with \"plumbline open\"")
	default:
		answer(w, token)
	}
}

// serveLaunch answers "plumbline open", which holds the token of the state folder.
func (s *sessions) serveLaunch(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodPost {
		refuseHTTP(w, http.StatusMethodNotAllowed, "post nothing, to get a launch token")
		return
	}
	token, err := s.launch()
	if err != nil {
		refuseHTTP(w, http.StatusInternalServerError, err.Error())
		return
	}
	answer(w, token)
}

// serveEnd answers "plumbline open --alone", which holds the token of the state
// folder.
func (s *sessions) serveEnd(w http.ResponseWriter) {
	if err := s.endAll(); err != nil {
		refuseHTTP(w, http.StatusInternalServerError, err.Error())
		return
	}
	w.WriteHeader(http.StatusNoContent)
}

func answer(w http.ResponseWriter, token string) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	_, _ = io.WriteString(w, token) // the caller may be gone
}

func bearerOf(header http.Header) string {
	scheme, token, _ := strings.Cut(header.Get("Authorization"), " ")
	if !strings.EqualFold(scheme, "Bearer") {
		return ""
	}
	return strings.TrimSpace(token)
}
