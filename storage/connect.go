package storage

import (
	"context"
	"database/sql"
	"net/url"
	"path/filepath"
	"runtime"
	"strings"
	"sync"

	_ "modernc.org/sqlite" // the driver named "sqlite"
)

// background is passed to the statements of a transaction: the driver starts
// a goroutine for each statement whose context can end. A transaction looks at
// its caller's context between statements instead.
var background = context.Background()

// writerPragmas set up the one connection that writes.
var writerPragmas = []string{
	"busy_timeout(10000)", // another process may hold the file for a moment, to read it
	"journal_mode(WAL)",   // readers go on while a transaction writes
	"synchronous(FULL)",   // a commit is on disk when it returns: it is what people are told
	// The pages that a transaction changes fit into memory. With the default of
	// 2 MiB an append costs twice as much at a million entries (measured).
	"cache_size(-65536)",
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

// connection is one connection with the statements that were prepared on it,
// kept by their text. The store has one that writes.
type connection struct {
	db       *sql.DB
	conn     *sql.Conn
	prepared map[string]*sql.Stmt
}

func openWriter(ctx context.Context, path string, readOnly bool) (*connection, error) {
	pragmas := writerPragmas
	if readOnly {
		pragmas = readerPragmas
	}
	return openConnection(ctx, path, pragmas, readOnly)
}

func openConnection(ctx context.Context, path string, pragmas []string, readOnly bool) (*connection, error) {
	name, err := dsn(path, pragmas, readOnly)
	if err != nil {
		return nil, err
	}
	db, err := sql.Open("sqlite", name)
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	conn, err := db.Conn(ctx)
	if err != nil {
		db.Close()
		return nil, err
	}
	return &connection{db: db, conn: conn, prepared: map[string]*sql.Stmt{}}, nil
}

func (c *connection) close() error {
	c.release()
	return c.db.Close()
}

// release gives the connection back to its pool.
func (c *connection) release() {
	for _, stmt := range c.prepared {
		stmt.Close()
	}
	c.conn.Close()
}

func (c *connection) statement(text string) (*sql.Stmt, error) {
	if stmt, ok := c.prepared[text]; ok {
		return stmt, nil
	}
	stmt, err := c.conn.PrepareContext(background, text)
	if err == nil {
		c.prepared[text] = stmt
	}
	return stmt, err
}

func (c *connection) exec(text string, args ...any) error {
	stmt, err := c.statement(text)
	if err != nil {
		return err
	}
	_, err = stmt.ExecContext(background, args...)
	return err
}

func (c *connection) query(text string, args ...any) (*sql.Rows, error) {
	stmt, err := c.statement(text)
	if err != nil {
		return nil, err
	}
	return stmt.QueryContext(background, args...)
}

// plain runs statements that aren't worth keeping.
func (c *connection) plain(text string) error {
	_, err := c.conn.ExecContext(background, text)
	return err
}

// transact runs the function in a transaction, which ends with it.
func (c *connection) transact(do func() error) error {
	if err := c.exec("BEGIN IMMEDIATE"); err != nil {
		return err
	}
	err := do()
	if err == nil {
		if err = c.exec("COMMIT"); err == nil {
			return nil
		}
	}
	// SQLite has rolled back by itself after some errors; then this one fails,
	// which tells nothing new.
	_ = c.exec("ROLLBACK")
	return err
}

// readers are the connections that read, with their statements.
type readers struct {
	db       *sql.DB
	prepared sync.Map // text -> *sql.Stmt
}

func openReaders(path string, readOnly bool) (*readers, error) {
	name, err := dsn(path, readerPragmas, readOnly)
	if err != nil {
		return nil, err
	}
	db, err := sql.Open("sqlite", name)
	if err != nil {
		return nil, err
	}
	n := max(4, runtime.GOMAXPROCS(0))
	db.SetMaxOpenConns(n)
	db.SetMaxIdleConns(n)
	return &readers{db: db}, nil
}

func (r *readers) query(ctx context.Context, text string, args ...any) (*sql.Rows, error) {
	stmt, ok := r.prepared.Load(text)
	if !ok {
		fresh, err := r.db.PrepareContext(ctx, text)
		if err != nil {
			return nil, err
		}
		var lost bool
		if stmt, lost = r.prepared.LoadOrStore(text, fresh); lost {
			fresh.Close()
		}
	}
	return stmt.(*sql.Stmt).QueryContext(ctx, args...)
}

// bind fixes the context, which gives a querier.
func (r *readers) bind(ctx context.Context) querier {
	return func(text string, args ...any) (*sql.Rows, error) { return r.query(ctx, text, args...) }
}

// querier runs a query on some connection: the writer's, inside its
// transaction, a reader's, or a reader's within one snapshot.
type querier func(text string, args ...any) (*sql.Rows, error)

// each reads all rows of a query. The rows are closed when it returns; the
// function must not query.
func (q querier) each(row func(scan func(...any) error) error, text string, args ...any) error {
	rows, err := q(text, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := row(rows.Scan); err != nil {
			return err
		}
	}
	return rows.Err()
}

// one reads the first row of a query; false when there is none.
func (q querier) one(text string, args []any, into ...any) (bool, error) {
	found := false
	err := q.each(func(scan func(...any) error) error {
		if found {
			return nil
		}
		found = true
		return scan(into...)
	}, text, args...)
	return found, err
}

func (r *readers) close() error {
	r.prepared.Range(func(_, stmt any) bool {
		stmt.(*sql.Stmt).Close()
		return true
	})
	return r.db.Close()
}
