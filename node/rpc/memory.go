package rpc

import (
	"context"
	"errors"
	"net"
	"net/http"
	"sync"
)

// Memory serves a node to this process alone: the same handlers over pipes, with
// no port and thus without the guard.
type Memory struct {
	*Client

	http *http.Server
	stop context.CancelFunc
	done chan struct{} // closed when serving has ended
}

// InMemory starts to serve. Close it before the node.
func InMemory(n Node) *Memory {
	closing, stop := context.WithCancel(context.Background())
	p := &pipes{ends: make(chan net.Conn), closed: make(chan struct{})}
	m := &Memory{stop: stop, http: newHTTPServer(NewHandler(closing, n), nil), done: make(chan struct{})}
	go func() {
		defer close(m.done)
		// It ends with the listener; what a call makes of that, the call says.
		_ = m.http.Serve(p)
	}()
	transport := &http.Transport{DialContext: p.dial}
	m.Client = newClient(transport, transport, "http://memory")
	return m
}

// Close ends the streams and waits for the calls under way.
func (m *Memory) Close() error {
	m.stop()
	m.Client.Close()
	err := shutDown(m.http)
	<-m.done
	return err
}

// pipes is a listener whose connections are pipes in memory.
type pipes struct {
	ends   chan net.Conn
	once   sync.Once
	closed chan struct{}
}

var errPipesClosed = errors.New("closed")

func (p *pipes) dial(ctx context.Context, _, _ string) (net.Conn, error) {
	near, far := net.Pipe()
	select {
	case p.ends <- far:
		return near, nil
	case <-p.closed:
		return nil, errPipesClosed
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

func (p *pipes) Accept() (net.Conn, error) {
	select {
	case conn := <-p.ends:
		return conn, nil
	case <-p.closed:
		return nil, net.ErrClosed
	}
}

func (p *pipes) Close() error {
	p.once.Do(func() { close(p.closed) })
	return nil
}

func (p *pipes) Addr() net.Addr { return pipeAddr{} }

type pipeAddr struct{}

func (pipeAddr) Network() string { return "pipe" }
func (pipeAddr) String() string  { return "memory" }
