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
	// The pages that a transaction of a catch-up changes fit into memory. It takes
	// twice as much as it says: the driver's allocator gives each page of 4 KiB, with
	// its head, one of 8. Twice and four times as many take no less time (measured).
	"cache_size(-8192)",
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
