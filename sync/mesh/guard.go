package mesh

import (
	"bytes"
	"fmt"
	"net"
)

// lineMost is the longest control line of the NATS protocol that is let
// through; the server's longest, its greeting, takes about 600 bytes.
const lineMost = 4096

// guardConn stands between a peer's server and the NATS client library, which
// allocates whatever length a server announces and gathers lines without end.
// It follows the protocol just closely enough to see both, and is the
// connection that the library dials.
type guardConn struct {
	net.Conn
	line []byte // the control line so far
	skip int    // bytes of a message still to pass
}

func (g *guardConn) Read(p []byte) (int, error) {
	n, err := g.Conn.Read(p)
	if bad := g.follow(p[:n]); bad != nil {
		return 0, bad
	}
	return n, err
}

func (g *guardConn) follow(data []byte) error {
	for len(data) > 0 {
		if g.skip > 0 {
			n := min(g.skip, len(data))
			g.skip -= n
			data = data[n:]
			continue
		}
		end := bytes.IndexByte(data, '\n')
		part := data[:max(end+1, 0)]
		if end < 0 {
			part = data
		}
		data = data[len(part):]
		if len(g.line)+len(part) > lineMost {
			return fmt.Errorf("%w: a control line of more than %d bytes", ErrFrame, lineMost)
		}
		g.line = append(g.line, part...)
		if end < 0 {
			continue
		}
		if err := g.announced(); err != nil {
			return err
		}
		g.line = g.line[:0]
	}
	return nil
}

// announced reads the length at the end of a message's control line.
func (g *guardConn) announced() error {
	fields := bytes.Fields(g.line)
	if len(fields) == 0 || !bytes.EqualFold(fields[0], []byte("MSG")) && !bytes.EqualFold(fields[0], []byte("HMSG")) {
		return nil
	}
	size := 0
	for _, digit := range fields[len(fields)-1] {
		if digit < '0' || digit > '9' {
			return fmt.Errorf("%w: a message without a length", ErrFrame)
		}
		if size = 10*size + int(digit-'0'); size > MaxMessage {
			return fmt.Errorf("%w: a message of more than %d bytes announced", ErrFrame, MaxMessage)
		}
	}
	g.skip = size + len("\r\n")
	return nil
}
