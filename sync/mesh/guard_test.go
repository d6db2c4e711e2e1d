package mesh

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"net"
	"strings"
	"testing"
	"testing/iotest"
)

// The lines are those of the NATS client protocol as its public documentation
// gives them (INFO, MSG, HMSG, PING, +OK, -ERR).
func TestTheGuardFollowsTheProtocol(t *testing.T) {
	payload := strings.Repeat("MSG x 1 99999999\r\n", 50)
	good := strings.Join([]string{
		`INFO {"server_id":"x","max_payload":1048576}`,
		"+OK",
		fmt.Sprintf("MSG a.b 1 %d\r\n%s", len(payload), payload),
		"MSG a.b 1 reply.to 0\r\n",
		fmt.Sprintf("HMSG a.b 1 12 %d\r\nNATS/1.0\r\n\r\n%s", 12+len(payload), payload),
		"PING",
		"-ERR 'Stale Connection'",
		"",
	}, "\r\n")
	for name, wrap := range map[string]func(io.Reader) io.Reader{
		"at once":      func(r io.Reader) io.Reader { return r },
		"byte by byte": iotest.OneByteReader,
		"halves":       iotest.HalfReader,
	} {
		got, err := io.ReadAll(&guardConn{Conn: readConn{r: wrap(strings.NewReader(good))}})
		if err != nil || string(got) != good {
			t.Errorf("%s: %d of %d bytes, %v", name, len(got), len(good), err)
		}
	}
}

func TestTheGuardStopsWhatTheLibraryWouldAllocate(t *testing.T) {
	for _, bad := range []string{
		"MSG a 1 1048577\r\n",
		"msg a 1 99999999999999999999999999\r\n",
		"MSG a 1 -5\r\n",
		"HMSG a 1 12 2000000\r\n",
		"PING\r\nMSG a 1 x 1048577\r\n",
		"INFO " + strings.Repeat("x", lineMost),
	} {
		n, err := io.Copy(io.Discard, &guardConn{Conn: readConn{r: strings.NewReader(bad)}})
		if !errors.Is(err, ErrFrame) {
			t.Errorf("%.30q: %d bytes let through, %v", bad, n, err)
		}
	}
	edge := append([]byte("MSG a 1 1048576\r\n"), make([]byte, MaxMessage+2)...)
	if _, err := io.Copy(io.Discard, &guardConn{Conn: readConn{r: bytes.NewReader(edge)}}); err != nil {
		t.Errorf("the largest message: %v", err)
	}
}

type readConn struct {
	net.Conn
	r io.Reader
}

func (c readConn) Read(p []byte) (int, error) { return c.r.Read(p) }
