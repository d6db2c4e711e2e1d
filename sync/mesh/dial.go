package mesh

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"net"
	"time"

	"plumbline/sync/entry"
)

var errNoKey = errors.New("this laptop holds no link key: pair it first")

// crossedTime is how long the link that another dial made may take to be live
// here, once the other end has closed this dial's.
const crossedTime = time.Second

// Dial links to the laptop at host:port. The error is [ErrLinked] if there is
// a link to that laptop by another dial, its own or this one's: already, or made
// in the same moment. It is [ErrSelf] if the laptop is this one.
func (m *Mesh) Dial(ctx context.Context, address string) error {
	for {
		device, err := m.dialTyped(ctx, address)
		if err == nil || device == (entry.DeviceID{}) || device == m.self {
			return err
		}
		if m.soonLinked(ctx, device) {
			return fmt.Errorf("link to %s: %w", address, ErrLinked)
		}
		if !errors.Is(err, ErrLinked) {
			return err
		}
		// The other dial, which this one made way for, came to nothing.
	}
}

// dialTyped takes one way after the other to an address as it was typed.
func (m *Mesh) dialTyped(ctx context.Context, address string) (device entry.DeviceID, err error) {
	for _, way := range zoned(address) {
		if device, err = m.dial(ctx, way, true); err == nil || device != (entry.DeviceID{}) {
			break
		}
	}
	return device, err
}

// soonLinked waits a little for a link to the device. Where two dials cross, each
// end keeps the same one and closes the other, which looks there like any broken
// connection.
func (m *Mesh) soonLinked(ctx context.Context, device entry.DeviceID) bool {
	ctx, cancel := context.WithTimeout(ctx, crossedTime)
	defer cancel()
	for !m.linked(device) {
		select {
		case <-time.After(crossedTime / 100):
		case <-ctx.Done():
			return false
		}
	}
	return true
}

// dial also tells whom it has reached, if it came that far. It goes from key to
// key while the other side is silent.
func (m *Mesh) dial(ctx context.Context, address string, typed bool) (device entry.DeviceID, err error) {
	err = errNoKey
	for _, key := range m.toTry(address, typed) {
		device, err = m.dialWith(ctx, address, key)
		if !errors.Is(err, ErrNoAnswer) {
			break
		}
	}
	if err != nil {
		return device, fmt.Errorf("link to %s: %w", address, err)
	}
	return device, nil
}

func (m *Mesh) dialWith(ctx context.Context, address string, key [32]byte) (entry.DeviceID, error) {
	dialer := net.Dialer{Timeout: strangerTime}
	conn, err := dialer.DialContext(ctx, "tcp", address)
	if err != nil {
		return entry.DeviceID{}, err
	}
	defer context.AfterFunc(m.ctx, func() { conn.Close() })()
	defer context.AfterFunc(ctx, func() { conn.Close() })()
	raw := newBudgetConn(conn, strangerBytes)
	t, err := m.reach(ctx, raw, key)
	if err == nil {
		err = m.finish(t)
	}
	if err != nil {
		raw.Close()
	}
	if t == nil {
		return entry.DeviceID{}, err
	}
	return t.device, err
}

// reach goes as far as knowing who is there.
func (m *Mesh) reach(ctx context.Context, raw *budgetConn, key [32]byte) (*talk, error) {
	raw.SetDeadline(time.Now().Add(strangerTime))
	conn := tls.Client(raw, dialTLS())
	if err := conn.HandshakeContext(ctx); err != nil {
		return nil, fmt.Errorf("secure the connection: %w", err)
	}
	t, err := m.newTalk(conn, raw, dialing)
	if err == nil {
		err = t.call(key)
	}
	return t, err
}

// finish makes a live link of it.
func (m *Mesh) finish(t *talk) error {
	if err := m.reserve(t); err != nil {
		return err
	}
	defer m.release(t)
	if err := t.settle(); err != nil {
		return err
	}
	return m.enterDialing(t)
}

// reserve keeps two dials from linking to one device by two addresses at once.
func (m *Mesh) reserve(t *talk) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if l := m.links[t.device]; m.calls[t.device] || l != nil && l.ctx.Err() == nil {
		return ErrLinked
	}
	m.calls[t.device] = true
	return nil
}

func (m *Mesh) release(t *talk) {
	m.mu.Lock()
	defer m.mu.Unlock()
	delete(m.calls, t.device)
}

func (m *Mesh) enterDialing(t *talk) error {
	var data [seatSize]byte
	if _, err := io.ReadFull(t.conn, data[:]); err != nil {
		return fmt.Errorf("read the seat: %w", err)
	}
	t.raw.lift()
	t.raw.SetDeadline(time.Time{})
	l := m.newLink(t)
	if err := l.attach(&guardConn{Conn: heeded{t.conn, l}}, seatOf(data[:]), dialing); err != nil {
		l.fail(err)
		return err
	}
	replaced, err := m.admit(l)
	if err != nil {
		l.fail(err)
		l.client.Close()
		return err
	}
	l.isReady.Do(func() { close(l.ready) })
	m.start(l, replaced)
	return l.tell(0)
}
