package mesh

import (
	"fmt"
	"sync"
	"time"

	"plumbline/sync/entry"
)

// Carrier passes messages over the connection of a pairing that has succeeded,
// for laptops that may have no other way to each other. It has no flow control
// of its own: what is asked for is paced by who asks.
type Carrier struct {
	// Peer is the device at the other end.
	Peer entry.DeviceID

	session *session
	sending sync.Mutex
}

func newCarrier(s *session) *Carrier {
	if raw, ok := s.raw.(*budgetConn); ok {
		raw.lift()
	}
	return &Carrier{Peer: entry.DeviceOf(s.peer), session: s}
}

// Send sends one message of at most [MaxMessage] bytes.
func (c *Carrier) Send(message []byte) error {
	if len(message) > MaxMessage {
		return fmt.Errorf("%w: %d bytes, at most %d", ErrTooLarge, len(message), MaxMessage)
	}
	c.sending.Lock()
	defer c.sending.Unlock()
	c.session.raw.SetWriteDeadline(time.Now().Add(stallTime))
	if err := writeFrame(c.session.conn, message); err != nil {
		return fmt.Errorf("%w: %w", ErrLinkClosed, err)
	}
	return nil
}

// Receive returns the next message, io.EOF once the other side has finished.
func (c *Carrier) Receive() ([]byte, error) { return readFrame(c.session.conn, MaxMessage) }

// Finish says that nothing more will be sent. Receive goes on.
func (c *Carrier) Finish() { c.session.conn.CloseWrite() }

// Close ends the connection.
func (c *Carrier) Close() { c.session.raw.Close() }
