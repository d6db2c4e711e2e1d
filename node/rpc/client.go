package rpc

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"time"

	"connectrpc.com/connect"
	"connectrpc.com/grpchealth"

	"plumbline/proto/plumbline/v1/plumblinev1connect"
)

// Client calls a node. Pass what its calls return through [Err] to get the
// node's reason and sentence.
type Client struct {
	Ledger plumblinev1connect.LedgerServiceClient
	Staff  plumblinev1connect.StaffServiceClient
	Node   plumblinev1connect.NodeServiceClient

	address   Address
	calls     http.RoundTripper
	health    *grpchealth.Client
	transport *http.Transport
}

// Dial returns a client of the node at an address. It connects at the first
// call.
func Dial(a Address) *Client {
	transport := &http.Transport{
		DialContext:         (&net.Dialer{Timeout: 5 * time.Second}).DialContext,
		MaxIdleConnsPerHost: 4,
	}
	c := newClient(&bearer{token: a.Token, next: transport}, transport, "http://"+a.Address)
	c.address = a
	return c
}

func newClient(calls http.RoundTripper, transport *http.Transport, base string) *Client {
	web := &http.Client{Transport: calls}
	options := connect.WithClientOptions(
		connect.WithAcceptCompression("gzip", nil, nil), // it never leaves the machine
		connect.WithInterceptors(connect.UnaryInterceptorFunc(saidEnded)),
	)
	return &Client{
		Ledger:    plumblinev1connect.NewLedgerServiceClient(web, base, options),
		Staff:     plumblinev1connect.NewStaffServiceClient(web, base, options),
		Node:      plumblinev1connect.NewNodeServiceClient(web, base, options),
		health:    grpchealth.NewClient(web, base, options),
		transport: transport,
		calls:     calls,
	}
}

// Ping asks whether the node is there and takes the token.
func (c *Client) Ping(ctx context.Context) error {
	_, err := c.health.Check(ctx, &grpchealth.CheckRequest{})
	return Err(err)
}

// Launch returns an address that opens the page, once.
func (c *Client) Launch(ctx context.Context) (string, error) {
	token, err := c.ask(ctx, http.MethodPost, launchPath)
	if err != nil {
		return "", err
	}
	return c.address.page(token), nil
}

// EndSessions lets every browser out.
func (c *Client) EndSessions(ctx context.Context) error {
	_, err := c.ask(ctx, http.MethodDelete, sessionPath)
	return err
}

// ask calls what is no service: the addresses about browsers.
func (c *Client) ask(ctx context.Context, method, path string) (string, error) {
	request, err := http.NewRequestWithContext(ctx, method, "http://"+c.address.Address+path, nil)
	if err != nil {
		return "", err
	}
	response, err := c.calls.RoundTrip(request)
	if err != nil {
		return "", fmt.Errorf("%w: %w", ErrUnreachable, err)
	}
	answer, err := io.ReadAll(io.LimitReader(response.Body, 256))
	if err = errors.Join(err, response.Body.Close()); err != nil {
		return "", err
	}
	switch response.StatusCode {
	case http.StatusOK, http.StatusNoContent:
		return string(answer), nil
	case http.StatusUnauthorized:
		return "", fmt.Errorf("%w: the node answers %s", ErrToken, response.Status)
	}
	return "", fmt.Errorf("the node answers %s: %s", response.Status, answer)
}

// Close drops idle connections.
func (c *Client) Close() { c.transport.CloseIdleConnections() }

// bearer adds the token to each call.
type bearer struct {
	token string
	next  http.RoundTripper
}

func (b *bearer) RoundTrip(r *http.Request) (*http.Response, error) {
	r = r.Clone(r.Context())
	r.Header.Set("Authorization", "Bearer "+b.token)
	return b.next.RoundTrip(r)
}
