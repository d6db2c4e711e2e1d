package rpc_test

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"plumbline/node"
	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func TestAddressFile(t *testing.T) {
	f := newFolders(t)
	n := f.founded(t)
	server := f.serve(t, n, freePort(t))
	info, err := os.Stat(filepath.Join(f.state, "api.json"))
	if err != nil {
		t.Fatal(err)
	}
	if info.Mode().Perm() != 0o600 {
		t.Errorf("the token's file has mode %o, want 600", info.Mode().Perm())
	}
	read, err := rpc.ReadAddress(f.state)
	if err != nil || read != server.Address || read.Data != f.data {
		t.Errorf("the file says %+v, %v, the server is %+v", read, err, server.Address)
	}
	if !strings.HasPrefix(read.Address, "127.0.0.1:") || len(read.Token) != 64 {
		t.Errorf("got %+v", read)
	}
	if err := server.Close(); err != nil {
		t.Fatal(err)
	}

	stopped, err := rpc.ReadAddress(f.state)
	if err != nil || stopped.Token != "" || stopped.Address != read.Address {
		t.Errorf("after the end the file says %+v, %v", stopped, err)
	}
	again := f.serve(t, n, 0)
	if again.Address.Address != read.Address || again.Address.Token == read.Token {
		t.Errorf("started again: %+v, before: %+v; want the same port and another token", again.Address, read)
	}
	if err := again.Close(); err != nil {
		t.Fatal(err)
	}
}

func TestKeptPortIsTaken(t *testing.T) {
	f := newFolders(t)
	n := f.founded(t)
	server := f.serve(t, n, freePort(t))
	if err := server.Close(); err != nil {
		t.Fatal(err)
	}
	squatter, err := net.Listen("tcp4", server.Address.Address)
	if err != nil {
		t.Fatal(err)
	}
	defer squatter.Close()
	moved := f.serve(t, n, 0)
	defer moved.Close()
	if moved.Address.Address == server.Address.Address {
		t.Error("two listen at one address")
	}
	port := squatter.Addr().(*net.TCPAddr).Port
	if _, err := rpc.Serve(n, rpc.Options{Data: f.data, State: f.state, Port: port}); err == nil || !strings.Contains(err.Error(), "choose another") {
		t.Errorf("a port that was asked for and is taken: %v", err)
	}
}

// freePort gives a port that no other test asks for, nor the system gives to
// outgoing connections.
func freePort(t *testing.T) int {
	t.Helper()
	for {
		port := 20000 + rand.IntN(7000)
		listener, err := net.Listen("tcp4", fmt.Sprintf("127.0.0.1:%d", port))
		if err != nil {
			continue
		}
		if err := listener.Close(); err != nil {
			t.Fatal(err)
		}
		return port
	}
}

func TestNoAddressYet(t *testing.T) {
	dir := t.TempDir()
	if a, err := rpc.ReadAddress(dir); err != nil || a != (rpc.Address{}) {
		t.Errorf("got %+v, %v", a, err)
	}
	if err := os.WriteFile(filepath.Join(dir, "api.json"), []byte("{"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := rpc.ReadAddress(dir); err == nil || !strings.Contains(err.Error(), "start the node again") {
		t.Errorf("a damaged file: %v", err)
	}
}

func TestClientsReasons(t *testing.T) {
	server := served(t)
	client := rpc.Dial(server.Address)
	defer client.Close()
	if err := client.Ping(t.Context()); err != nil {
		t.Errorf("ping: %v", err)
	}
	_, err := client.Ledger.Get(t.Context(), &v1.GetRequest{Record: "Nell Varr"})
	if err = rpc.Err(err); !errors.Is(err, node.ErrNotFound) || !strings.Contains(err.Error(), "Nell Varr") {
		t.Errorf("an unknown name: %v", err)
	}
	stranger := rpc.Dial(rpc.Address{Address: server.Address.Address, Token: "guessed"})
	defer stranger.Close()
	if err := stranger.Ping(t.Context()); !errors.Is(err, rpc.ErrToken) {
		t.Errorf("a wrong token: %v", err)
	}
	gone := rpc.Dial(rpc.Address{Address: "127.0.0.1:1", Token: server.Address.Token})
	defer gone.Close()
	if err := gone.Ping(t.Context()); !errors.Is(err, rpc.ErrUnreachable) {
		t.Errorf("nobody there: %v", err)
	}
}
