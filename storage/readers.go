package storage

import (
	"context"
	"errors"
	"runtime"
	"sync"
)

// readers are the connections that read. Each is used by one caller at a time.
type readers struct {
	path     string
	readOnly bool
	slots    chan struct{} // one for each connection in use

	mu     sync.Mutex
	idle   []*connection
	closed bool
}

func openReaders(path string, readOnly bool) *readers {
	return &readers{path: path, readOnly: readOnly, slots: make(chan struct{}, max(4, runtime.GOMAXPROCS(0)))}
}

// take waits for a connection. It goes back with give.
func (r *readers) take(ctx context.Context) (*connection, error) {
	select {
	case r.slots <- struct{}{}:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	c, err := r.one(ctx)
	if err != nil {
		<-r.slots
	}
	return c, err
}

func (r *readers) one(ctx context.Context) (*connection, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed {
		return nil, errClosed
	}
	if last := len(r.idle) - 1; last >= 0 {
		c := r.idle[last]
		r.idle = r.idle[:last]
		return c, nil
	}
	return openConnection(ctx, r.path, readerPragmas, r.readOnly)
}

// besides opens a connection for who needs it for minutes, and closes it: all others
// would wait, those who answer other laptops and whoever saves behind them.
func (r *readers) besides(ctx context.Context) (*connection, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed {
		return nil, errClosed
	}
	return openConnection(ctx, r.path, readerPragmas, r.readOnly)
}

// give takes a connection back; one that an interrupted statement may have left
// in disorder is closed.
func (r *readers) give(c *connection, sound bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if sound && !r.closed {
		r.idle = append(r.idle, c)
	} else {
		c.close()
	}
	<-r.slots
}

// bind fixes the context, which gives a querier.
func (r *readers) bind(ctx context.Context) querier {
	return func(row func(scan func(...any) error) error, text string, args ...any) error {
		c, err := r.take(ctx)
		if err != nil {
			return err
		}
		err = c.queryContext(ctx, row, text, args)
		r.give(c, ctx.Err() == nil)
		return err
	}
}

// snapshot reads one moment of the database by several queries.
func (r *readers) snapshot(ctx context.Context, read func(querier) error) error {
	c, err := r.take(ctx)
	if err != nil {
		return err
	}
	err = c.exec("BEGIN")
	if err == nil {
		err = read(func(row func(scan func(...any) error) error, text string, args ...any) error {
			return c.queryContext(ctx, row, text, args)
		})
	}
	if err == nil {
		err = c.exec("COMMIT")
	}
	r.give(c, err == nil && ctx.Err() == nil)
	return err
}

// close closes what is idle now; what is in use follows when it is given back.
func (r *readers) close() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.closed = true
	var failed []error
	for _, c := range r.idle {
		failed = append(failed, c.close())
	}
	r.idle = nil
	return errors.Join(failed...)
}
