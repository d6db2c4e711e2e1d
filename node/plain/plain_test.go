package plain

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"plumbline/storage"
)

// The errors are the system's own: of its resolver, its network, its database.
func TestErrorsAreInPlainWords(t *testing.T) {
	dialer := net.Dialer{}
	_, unknown := dialer.DialContext(t.Context(), "tcp", "laptop.invalid:47123") // RFC 6761: invalid never resolves
	closed, err := net.Listen("tcp4", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := closed.Addr().String()
	if err := closed.Close(); err != nil {
		t.Fatal(err)
	}
	_, refused := dialer.DialContext(t.Context(), "tcp4", address)
	_, portless := dialer.DialContext(t.Context(), "tcp", "127.0.0.1")
	for _, c := range []struct {
		name string
		err  error
		says string
	}{
		{"a name that nobody has", unknown, "no computer called laptop.invalid is known here"},
		{"a name server that isn't there", errors.New("dial tcp: lookup laptop.invalid on [::1]:53: read udp [::1]:40000->[::1]:53: read: connection refused"),
			"no computer called laptop.invalid is known here"},
		{"the same on Windows", errors.New("dial tcp 10.0.0.4:47123: connectex: No connection could be made because the target machine actively refused it."),
			"nothing listens at 10.0.0.4:47123"},
		{"a port that nobody listens on", refused, "nothing listens at " + address},
		{"an address of a link without its network, on Linux", errors.New("dial tcp [fe80::4]:47123: connect: invalid argument"),
			"fe80::4 leads over one network alone: say which one it is, as in [fe80::4%INTERFACE]:47123"},
		{"an address without a port", portless, "127.0.0.1 has no port: give it as host:port"},
		{"whoever hangs up", hangUp(t), "the other side hung up before the connection was secure; see that"},
		{"a disk that was taken away", &fs.PathError{Op: "sync", Path: "list.xlsx", Err: syscall.EIO}, "sync list.xlsx: the disk can't be read or written there: see that"},
		{"a file that is no database", openGarbage(t), "file is not a database"},
	} {
		got := Words(errors.Join(c.err))
		if got == nil || !strings.Contains(got.Error(), c.says) {
			t.Errorf("%s: %v became %v, want it to say %q", c.name, c.err, got, c.says)
			continue
		}
		for _, raw := range []string{"dial", "tcp", "lookup", "EOF", "(26)", "connect:"} {
			if strings.Contains(got.Error(), raw) {
				t.Errorf("%s: a person reads %q in %v", c.name, raw, got)
			}
		}
		if cause, ok := Cause(got); !ok || cause != c.err.Error() {
			t.Errorf("%s: the cause is kept as %q, want %q", c.name, cause, c.err)
		}
	}
}

// What a person wrote stays as it is, whatever it looks like.
func TestPlainWordsLeaveTheRest(t *testing.T) {
	for _, text := range []string{`no record is called "EOF"`, `list.csv, line 3: jersey "7 (26)" is no jersey`, "nothing listens to reason"} {
		if got := Words(errors.New(text)); got.Error() != text {
			t.Errorf("%q became %q", text, got)
		}
	}
	if Words(nil) != nil {
		t.Error("nothing became an error")
	}
	if !errors.Is(Words(errors.Join(context.Canceled, errors.New("x: EOF"))), context.Canceled) {
		t.Error("the reason is lost, and with it the exit code")
	}
}

// hangUp is what a TLS client says of a server that closes.
func hangUp(t *testing.T) error {
	listener, err := net.Listen("tcp4", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	go func() {
		if connection, err := listener.Accept(); err == nil {
			_ = connection.Close()
		}
	}()
	connection, err := tls.Dial("tcp", listener.Addr().String(), &tls.Config{ServerName: "laptop.invalid"})
	if err == nil {
		t.Fatalf("connected to %s", connection.RemoteAddr())
	}
	if err := listener.Close(); err != nil {
		t.Fatal(err)
	}
	return fmt.Errorf("secure the connection: %w", err)
}

func openGarbage(t *testing.T) error {
	path := filepath.Join(t.TempDir(), "plumbline.db")
	if err := os.WriteFile(path, []byte(strings.Repeat("no database. ", 1000)), 0o600); err != nil {
		t.Fatal(err)
	}
	store, err := storage.Open(t.Context(), path, storage.Options{})
	if err == nil {
		t.Fatal(errors.Join(errors.New("opened"), store.Close()))
	}
	return err
}
