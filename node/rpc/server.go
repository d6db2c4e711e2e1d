package rpc

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"strconv"
	"time"

	"plumbline/node/web"
)

// DefaultPort is tried at a folder's first start, then the ports above it. They
// lie below those that systems hand out for outgoing connections, so that the
// port is likely to be free again at the next start.
const (
	DefaultPort = 27080
	portsAbove  = 40
)

// patience is how long calls may go on after the server was told to close.
const patience = 5 * time.Second

// Options say where to serve.
type Options struct {
	Data, State string // the node's folders
	// Port to listen on. 0 takes the last one again, or [DefaultPort] or one
	// close above it at first, or any free one.
	Port   int
	Random io.Reader // crypto/rand if nil
	Log    *slog.Logger
}

// Server serves a node's API, and the page, on the loopback address.
type Server struct {
	Address Address

	state    string
	sessions *sessions
	http     *http.Server
	stop     context.CancelFunc // ends the streams

	done   chan struct{} // closed when serving has ended
	failed error         // why it ended; read it after done
}

// Serve starts to serve and writes the address to the state folder. Close it
// before the node.
func Serve(n Node, o Options) (*Server, error) {
	pages, err := web.NewHandler()
	if err != nil {
		return nil, err
	}
	sessions, err := readSessions(o.State, o.Random)
	if err != nil {
		return nil, err
	}
	listener, err := listen(o)
	if err != nil {
		return nil, err
	}
	token, err := newToken(o.Random)
	if err != nil {
		return nil, errors.Join(err, listener.Close())
	}
	address := Address{Address: listener.Addr().String(), Token: token, Data: o.Data, Process: os.Getpid()}
	closing, stop := context.WithCancel(context.Background())
	s := &Server{Address: address, state: o.State, sessions: sessions, stop: stop, done: make(chan struct{})}
	port := strconv.Itoa(listener.Addr().(*net.TCPAddr).Port)
	hosts := []string{address.Address, net.JoinHostPort("localhost", port)}
	s.http = newHTTPServer(newGuard(hosts, token, sessions, pages, NewHandler(closing, n)), o.Log)
	go func() {
		defer close(s.done)
		s.failed = s.http.Serve(listener)
	}()
	if err := address.write(o.State); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

// newHTTPServer bounds what a caller can hold open. There is no limit on the
// length of a call, since streams last. HTTP/2 comes without TLS, which gRPC
// clients need; everything else speaks HTTP/1.
func newHTTPServer(handler http.Handler, log *slog.Logger) *http.Server {
	var protocols http.Protocols
	protocols.SetHTTP1(true)
	protocols.SetUnencryptedHTTP2(true)
	server := &http.Server{
		Handler: handler, Protocols: &protocols,
		ReadHeaderTimeout: 10 * time.Second, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 64 << 10,
	}
	if log != nil {
		server.ErrorLog = slog.NewLogLogger(log.Handler(), slog.LevelDebug)
	}
	return server
}

// Launch returns an address that opens the page, once.
func (s *Server) Launch() (string, error) {
	token, err := s.sessions.launch()
	if err != nil {
		return "", err
	}
	return s.Address.page(token), nil
}

// Done is closed when serving has ended, asked or not. [Server.Close] says why.
func (s *Server) Done() <-chan struct{} { return s.done }

// Close ends the streams, waits for the calls under way and takes the token out
// of the address file.
func (s *Server) Close() error {
	s.stop()
	err := shutDown(s.http)
	<-s.done
	if !errors.Is(s.failed, http.ErrServerClosed) {
		err = errors.Join(s.failed, err)
	}
	stopped := Address{Address: s.Address.Address, Data: s.Address.Data}
	return errors.Join(err, stopped.write(s.state))
}

// shutDown waits for the calls under way, but not for ever.
func shutDown(server *http.Server) error {
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	err := server.Shutdown(ctx)
	if errors.Is(err, context.DeadlineExceeded) {
		return server.Close()
	}
	return err
}

// listen binds the port asked for, else the kept one, else any.
func listen(o Options) (net.Listener, error) {
	if o.Port != 0 {
		listener, err := bind(o.Port)
		if err != nil {
			return nil, fmt.Errorf("port %d for the API can't be had: %w; choose another, or leave it out to take a free one", o.Port, err)
		}
		return listener, nil
	}
	// A damaged file costs the kept port, no more: it is written anew.
	kept, _ := ReadAddress(o.State)
	var ports []int
	if port := portOf(kept.Address); port != 0 {
		ports = append(ports, port)
	}
	for i := range portsAbove {
		ports = append(ports, DefaultPort+i)
	}
	for _, port := range ports {
		if listener, err := bind(port); err == nil {
			return listener, nil
		}
	}
	listener, err := bind(0)
	if err != nil {
		return nil, fmt.Errorf("no port for the API can be had on the loopback address: %w", err)
	}
	return listener, nil
}

func bind(port int) (net.Listener, error) {
	return net.Listen("tcp4", net.JoinHostPort("127.0.0.1", strconv.Itoa(port)))
}

func portOf(address string) int {
	_, text, err := net.SplitHostPort(address)
	if err != nil {
		return 0
	}
	port, err := strconv.ParseUint(text, 10, 16)
	if err != nil {
		return 0
	}
	return int(port)
}

func newToken(random io.Reader) (string, error) {
	if random == nil {
		random = rand.Reader
	}
	var token [32]byte
	if _, err := io.ReadFull(random, token[:]); err != nil {
		return "", fmt.Errorf("making a token: %w", err)
	}
	return fmt.Sprintf("%x", token), nil
}
