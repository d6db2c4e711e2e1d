package storage

import (
	"net/url"
	"path/filepath"
	"strings"
)

// writerPragmas set up the one connection that writes.
var writerPragmas = []string{
	"busy_timeout(10000)", // another process may hold the file for a moment, to read it
	"journal_mode(WAL)",   // readers go on while a transaction writes
	"synchronous(FULL)",   // a commit is on disk when it returns: it is what people are told
	// The pages that a transaction changes fit into memory. Twice as much takes
	// no less time (measured), and 25 MiB more while an empty laptop catches up.
	"cache_size(-16384)",
	// Checkpoints every 32 MiB instead of every 4: a catch-up rewrites the same
	// index pages again and again.
	"wal_autocheckpoint(8000)",
}

// readerPragmas set up the connections that read.
var readerPragmas = []string{
	"busy_timeout(10000)",
	"query_only(1)",         // a mistake can't write past the one writer
	"mmap_size(1073741824)", // shares the system's file cache instead of copying from it
}

func dsn(path string, pragmas []string, readOnly bool) (string, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return "", err
	}
	path = filepath.ToSlash(path)
	if !strings.HasPrefix(path, "/") {
		path = "/" + path // a Windows drive letter
	}
	q := url.Values{"_pragma": pragmas}
	if readOnly {
		q.Set("mode", "ro")
	}
	return (&url.URL{Scheme: "file", Path: path, RawQuery: q.Encode()}).String(), nil
}
