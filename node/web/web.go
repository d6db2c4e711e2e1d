// Package web holds the page and hands out its files. What a browser may do with
// them is decided here; who may call the API is decided in node/rpc.
//
// The page's sources lie in src, in TypeScript; what is built from them lies in
// dist, under names that stay. Start reading at [NewHandler]; of the page, at
// src/main.tsx. The files are the same for everybody and hold nothing of any
// staff, so they are handed out without a token: this package never reads a
// record.
package web

import (
	"bytes"
	"crypto/rand"
	"crypto/sha256"
	"embed"
	"fmt"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"strings"
)

//go:embed dist
var built embed.FS

// nonceMark stands in the page for the word that allows its styles. React Aria
// adds a few style elements while the page runs and gives them that word.
const nonceMark = "NONCE-OF-THIS-ANSWER"

// Handler hands out the page. Every address that isn't one of its files is a
// screen of the page, which finds out itself which one.
type Handler struct {
	page  string
	files map[string]file
}

type file struct {
	content []byte
	kind    string
	tag     string
}

// NewHandler reads the built files.
func NewHandler() (*Handler, error) {
	h := &Handler{files: map[string]file{}}
	err := fs.WalkDir(built, "dist", func(name string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		content, err := built.ReadFile(name)
		if err != nil {
			return err
		}
		h.files[strings.TrimPrefix(name, "dist")] = file{
			content: content, kind: kindOf(name), tag: fmt.Sprintf(`"%x"`, sha256.Sum256(content)),
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("reading the page's files: %w", err)
	}
	h.page = string(h.files["/index.html"].content)
	delete(h.files, "/index.html") // it is made anew for each answer
	return h, nil
}

// kindOf doesn't ask the system, which may name scripts in another way.
func kindOf(name string) string {
	switch path.Ext(name) {
	case ".js":
		return "text/javascript; charset=utf-8"
	case ".woff2":
		return "font/woff2"
	case ".txt":
		return "text/plain; charset=utf-8"
	}
	return mime.TypeByExtension(path.Ext(name))
}

// Serves tells whether a request is for the page rather than for the API, whose
// addresses begin with the name of a service.
func (h *Handler) Serves(r *http.Request) bool {
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		return false
	}
	service, _, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, "/"), "/")
	return !strings.Contains(service, ".") || h.isFile(r.URL.Path)
}

func (h *Handler) isFile(path string) bool {
	_, ok := h.files[path]
	return ok
}

func (h *Handler) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	nonce := rand.Text()
	protect(w.Header(), nonce)
	f, ok := h.files[r.URL.Path]
	switch {
	case ok:
		serve(w, r, f)
	case path.Ext(r.URL.Path) != "":
		http.Error(w, "there is no such file", http.StatusNotFound)
	default:
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		w.Header().Set("Cache-Control", "no-store")
		_, _ = strings.NewReplacer(nonceMark, nonce).WriteString(w, h.page) // the caller may be gone
	}
}

// serve lets a browser keep a file, but ask each time whether it is still the
// one: the names stay the same when the program is a newer one.
func serve(w http.ResponseWriter, r *http.Request, f file) {
	w.Header().Set("Content-Type", f.kind)
	w.Header().Set("Cache-Control", "no-cache")
	w.Header().Set("ETag", f.tag)
	if r.Header.Get("If-None-Match") == f.tag {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	_, _ = bytes.NewReader(f.content).WriteTo(w) // the caller may be gone
}

// protect says what a browser may do with an answer: load scripts, styles, fonts
// and pictures from here alone, talk to here alone, be framed by nobody, and tell
// no other site that it was here. No script runs that isn't one of the files.
func protect(header http.Header, nonce string) {
	header.Set("Content-Security-Policy", strings.Join([]string{
		"default-src 'none'", "script-src 'self'", "style-src 'self' 'nonce-" + nonce + "'", "font-src 'self'",
		"img-src 'self' data:", "media-src 'self' blob:", "connect-src 'self'", "base-uri 'none'", "form-action 'none'",
		"frame-ancestors 'none'",
	}, "; "))
	header.Set("X-Content-Type-Options", "nosniff")
	header.Set("X-Frame-Options", "DENY")
	header.Set("Referrer-Policy", "no-referrer")
	header.Set("Cross-Origin-Opener-Policy", "same-origin")
	header.Set("Cross-Origin-Resource-Policy", "same-origin")
	header.Set("Permissions-Policy", "camera=(), microphone=(self), geolocation=()")
}
