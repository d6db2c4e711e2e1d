package storage

import (
	"context"
	"database/sql/driver"
	"errors"
	"io"

	"modernc.org/sqlite"
)

// connection is one connection with the statements that were prepared on it,
// kept by their text. It speaks to the driver itself: the standard library's
// layer above it took a third of the time of a small query (measured), for a
// pool and for conversions that aren't needed here.
type connection struct {
	conn     driver.Conn
	prepared map[string]*statement
	closed   bool
}

var errClosed = errors.New("the database is closed")

// statement is a prepared statement and the space for its arguments.
type statement struct {
	driver.StmtExecContext
	driver.StmtQueryContext
	close func() error
	args  []driver.NamedValue
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
	return openNamed(ctx, name)
}

// openNamed opens what a name in the form of the driver says.
func openNamed(ctx context.Context, name string) (*connection, error) {
	connector, err := sqlite.NewConnector(name)
	if err != nil {
		return nil, err
	}
	conn, err := connector.Connect(ctx)
	if err != nil {
		return nil, err
	}
	return &connection{conn: conn, prepared: map[string]*statement{}}, nil
}

func (c *connection) close() error {
	if c.closed {
		return nil
	}
	c.closed = true
	for _, s := range c.prepared {
		s.close()
	}
	clear(c.prepared)
	return c.conn.Close()
}

func (c *connection) statement(text string) (*statement, error) {
	if s, ok := c.prepared[text]; ok {
		return s, nil
	}
	if c.closed {
		return nil, errClosed
	}
	stmt, err := c.conn.(driver.ConnPrepareContext).PrepareContext(background, text)
	if err != nil {
		return nil, err
	}
	s := &statement{StmtExecContext: stmt.(driver.StmtExecContext), StmtQueryContext: stmt.(driver.StmtQueryContext), close: stmt.Close}
	c.prepared[text] = s
	return s, nil
}

// with puts arguments in the form that the driver takes.
func (s *statement) with(args []any) ([]driver.NamedValue, error) {
	s.args = s.args[:0]
	for i, a := range args {
		v, err := plainValue(a)
		if err != nil {
			return nil, err
		}
		s.args = append(s.args, driver.NamedValue{Ordinal: i + 1, Value: v})
	}
	return s.args, nil
}

func (c *connection) exec(text string, args ...any) error {
	return c.execContext(background, text, args...)
}

func (c *connection) execContext(ctx context.Context, text string, args ...any) error {
	s, err := c.statement(text)
	if err != nil {
		return err
	}
	values, err := s.with(args)
	if err == nil {
		_, err = s.ExecContext(ctx, values)
	}
	clear(values) // nothing is held on to
	return err
}

// query is a [querier] without a context.
func (c *connection) query(row func(scan func(...any) error) error, text string, args ...any) error {
	return c.queryContext(background, row, text, args)
}

func (c *connection) queryContext(ctx context.Context, row func(scan func(...any) error) error, text string, args []any) error {
	s, err := c.statement(text)
	if err != nil {
		return err
	}
	values, err := s.with(args)
	if err != nil {
		return err
	}
	rows, err := s.QueryContext(ctx, values)
	if err != nil {
		return err
	}
	err = eachRow(rows, row)
	return errors.Join(err, rows.Close())
}

func eachRow(rows driver.Rows, row func(scan func(...any) error) error) error {
	values := make(scanned, len(rows.Columns()))
	for {
		err := rows.Next(values)
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err == nil {
			err = row(values.scan)
		}
		if errors.Is(err, errEnough) {
			return nil
		}
		if err != nil {
			return err
		}
	}
}

// plain runs statements that aren't worth keeping.
func (c *connection) plain(text string) error {
	if c.closed {
		return errClosed
	}
	_, err := c.conn.(driver.ExecerContext).ExecContext(background, text, nil)
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
