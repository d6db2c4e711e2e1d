package mesh

import (
	"cmp"
	"crypto/ed25519"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"time"

	"plumbline/sync/entry"
)

// The handshake, over a TLS session with exporter value E. The listener is
// silent until the dialler has shown a link key; each line is sent only if
// everything above it was right.
//
//	dialler   code over E
//	listener  code over E by the same key, proof
//	dialler   proof, verdict
//	listener  verdict, introduction if asked for
//	dialler   introduction if asked for, final verdict
//	listener  final verdict, seat
//
// A verdict admits, refuses, or asks for an introduction; a final one admits
// or refuses. From the seat on, the connection carries NATS.

// Verdicts.
const (
	admits  byte = 1
	refuses byte = 2
	asks    byte = 3
)

const (
	certificateMost = 8 << 10
	// memberTime is how long the rest may take once a link key is shown: an
	// introduction may have to cross a slow network and be stored.
	memberTime = 15 * time.Second
)

// talk is one side of a handshake.
type talk struct {
	*Mesh
	conn *tls.Conn
	raw  *budgetConn
	side side
	e    exporter

	key    [32]byte       // the link key that both know
	their  proof          // checked
	device entry.DeviceID // whose it is
	peer   Peer           // as admitted
}

func (m *Mesh) newTalk(conn *tls.Conn, raw *budgetConn, s side) (*talk, error) {
	e, err := export(conn, linkLabel)
	return &talk{Mesh: m, conn: conn, raw: raw, side: s, e: e}, err
}

// answer is the listener's side, up to the dialler's final verdict.
func (t *talk) answer() error {
	var got code
	if _, err := io.ReadFull(t.conn, got[:]); err != nil {
		return fmt.Errorf("read the code: %w", err)
	}
	key, ok := keyOf(got, t.listening(), dialing, t.cfg.Staff, t.e)
	if !ok {
		return ErrProof
	}
	t.known(key)
	mine := linkCode(key, listening, t.cfg.Staff, t.e)
	if _, err := t.conn.Write(appendFrame(mine[:], t.proof())); err != nil {
		return err
	}
	if err := t.readProof(); err != nil {
		return err
	}
	verdict, err := readVerdict(t.conn)
	if err != nil {
		return err
	}
	need, refused := t.judge()
	out := []byte{need}
	if verdict == asks && refused == nil {
		out = appendFrame(out, t.cfg.Introduce())
	}
	if _, err := t.conn.Write(out); err != nil {
		return err
	}
	if refused != nil {
		return refused
	}
	if err := t.learn(need); err != nil {
		t.conn.Write([]byte{refuses})
		return err
	}
	return t.readFinal()
}

// call is the dialler's side, up to the listener's proof.
func (t *talk) call(key [32]byte) error {
	mine := linkCode(key, dialing, t.cfg.Staff, t.e)
	if _, err := t.conn.Write(mine[:]); err != nil {
		return err
	}
	var got code
	if _, err := io.ReadFull(t.conn, got[:]); err != nil {
		return fmt.Errorf("%w (%w)", ErrNoAnswer, err)
	}
	if _, ok := keyOf(got, [][32]byte{key}, listening, t.cfg.Staff, t.e); !ok {
		return ErrProof
	}
	t.known(key)
	return t.readProof()
}

// settle is the rest of the dialler's side, once it knows whom it has reached.
func (t *talk) settle() error {
	need, refused := t.judge()
	if need != admits && t.former(t.key) {
		// Whoever was revoked may be there. They get to see no certificate.
		return cmp.Or(refused, ErrFormerKey)
	}
	if _, err := t.conn.Write(append(appendFrame(nil, t.proof()), need)); err != nil {
		return err
	}
	if refused != nil {
		return refused
	}
	verdict, err := readVerdict(t.conn)
	if err != nil {
		return err
	}
	if err := t.learn(need); err != nil {
		t.conn.Write([]byte{refuses})
		return err
	}
	var out []byte
	if verdict == asks {
		out = appendFrame(out, t.cfg.Introduce())
	}
	if _, err := t.conn.Write(append(out, admits)); err != nil {
		return err
	}
	return t.readFinal()
}

// known gives whoever has shown a link key more room than a stranger has.
func (t *talk) known(key [32]byte) {
	t.key = key
	t.raw.raise(MaxIntroduction + strangerBytes)
	t.raw.SetDeadline(time.Now().Add(memberTime))
}

func (t *talk) proof() []byte {
	p := proof{Port: t.port(), Certificate: t.cfg.Certificate()}
	p.Signature = ed25519.Sign(t.cfg.Device, proofMessage(t.side, t.cfg.Staff, t.e, p.Port, p.Certificate))
	return p.encode()
}

func (t *talk) readProof() error {
	data, err := readFrame(t.conn, certificateMost)
	if err != nil {
		return err
	}
	if t.their, err = decodeProof(data); err != nil {
		return err
	}
	if t.device, err = t.their.device(t.side.other(), t.cfg.Staff, t.e); err != nil {
		return err
	}
	if t.device == t.self {
		return ErrSelf
	}
	return nil
}

// judge returns the verdict on the other side, and why if it isn't admitted.
func (t *talk) judge() (byte, error) {
	peer, err := t.cfg.Admit(t.their.Certificate)
	if errors.Is(err, ErrUnknownDevice) {
		return asks, nil
	}
	if err != nil {
		return refuses, err
	}
	t.peer = t.described(peer)
	return admits, nil
}

// learn reads the introduction that was asked for and judges by it.
func (t *talk) learn(need byte) error {
	if need != asks {
		return nil
	}
	intro, err := readFrame(t.conn, MaxIntroduction)
	if err != nil {
		return err
	}
	if err := t.cfg.Learn(intro); err != nil {
		return fmt.Errorf("learn from the introduction: %w", err)
	}
	peer, err := t.cfg.Admit(t.their.Certificate)
	if err != nil {
		return err
	}
	t.peer = t.described(peer)
	return nil
}

func (t *talk) described(p Peer) Peer {
	p.Device, p.LinkKey = t.device, t.key
	p.Address, p.Listens = placeOf(t.raw.RemoteAddr(), t.side, t.their.Port)
	return p
}

func (t *talk) readFinal() error {
	v, err := readVerdict(t.conn)
	if err == nil && v != admits {
		err = fmt.Errorf("%w: verdict %d", ErrFrame, v)
	}
	return err
}

func readVerdict(r io.Reader) (byte, error) {
	v, err := readByte(r)
	switch {
	case err != nil:
		return 0, fmt.Errorf("read the verdict: %w", err)
	case v == refuses:
		return v, ErrRefused
	case v != admits && v != asks:
		return v, fmt.Errorf("%w: verdict %d", ErrFrame, v)
	}
	return v, nil
}
