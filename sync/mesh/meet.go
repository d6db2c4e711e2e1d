package mesh

import (
	"context"
	"crypto/tls"
	"time"
)

// meet is the listener's side of a new connection, from the TLS handshake to
// a live link.
func (m *Mesh) meet(_ context.Context, conn *tls.Conn, raw *budgetConn) {
	err := m.receive(conn, raw)
	if err != nil {
		// Not even TLS says goodbye: to a stranger that would be an answer.
		raw.Close()
		m.cfg.Log.Debug("a connection didn't become a link", "from", raw.RemoteAddr(), "error", err)
	}
}

func (m *Mesh) receive(conn *tls.Conn, raw *budgetConn) error {
	t, err := m.newTalk(conn, raw, listening)
	if err != nil {
		return err
	}
	if err := t.answer(); err != nil {
		return err
	}
	own, remote, err := m.broker.pair(t.device)
	if err != nil {
		return err
	}
	l := m.newLink(t)
	context.AfterFunc(l.ctx, func() { m.broker.drop(own, remote) })
	if err := m.enterListening(t, l, own); err != nil {
		l.fail(err)
		conn.Write([]byte{refuses})
		return err
	}
	raw.lift()
	raw.SetDeadline(time.Time{})
	inside, err := m.broker.server.InProcessConn()
	if err == nil {
		_, err = conn.Write(append([]byte{admits}, remote.encode()...))
	}
	if err != nil {
		l.fail(err)
		return err
	}
	go func() { l.fail(pump(heeded{conn, l}, inside)) }()
	return nil
}

// enterListening subscribes this end before the other one gets its seat, so
// that nothing it sends can be missed.
func (m *Mesh) enterListening(t *talk, l *link, own seat) error {
	inside, err := m.broker.server.InProcessConn()
	if err != nil {
		return err
	}
	if err := l.attach(inside, own, listening); err != nil {
		return err
	}
	replaced, err := m.admit(l)
	if err != nil {
		l.client.Close()
		return err
	}
	m.start(l, replaced)
	return nil
}
