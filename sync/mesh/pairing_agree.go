package mesh

import (
	"context"
	"crypto/ed25519"
	"crypto/tls"
	"fmt"
	"io"
	"net"
)

const (
	pairingTries    = 3
	pairingSessions = 3
)

// session is one attempt at a pairing, from the moment on that both sides
// know which codes to show.
type session struct {
	conn *tls.Conn
	raw  net.Conn
	seen transcript
	peer ed25519.PublicKey
	mine string // shown on this screen
	want string // asked for
}

func newOffer(key ed25519.PrivateKey, random io.Reader) (offer, error) {
	o := offer{key: key.Public().(ed25519.PublicKey)}
	if _, err := io.ReadFull(random, o.nonce[:]); err != nil {
		return o, fmt.Errorf("read randomness: %w", err)
	}
	return o, nil
}

// agree has the people compare the codes. It returns nil once both have.
func (s *session) agree(ctx context.Context, prompt Prompt) error {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	theirs := make(chan struct{})
	go func() { // the other side may agree before this one, or give up
		switch v, err := readByte(s.conn); {
		case err != nil:
			cancel(ErrBroken)
		case v != admits:
			cancel(ErrDeclined)
		default:
			close(theirs)
		}
	}()
	if err := prompt.Show(s.mine); err != nil {
		return fmt.Errorf("show the code: %w", err)
	}
	if err := s.ask(ctx, prompt); err != nil {
		s.conn.Write([]byte{refuses})
		return err
	}
	if _, err := s.conn.Write([]byte{admits}); err != nil {
		return ErrBroken
	}
	select {
	case <-theirs:
		return nil
	case <-ctx.Done():
		return context.Cause(ctx)
	}
}

func (s *session) ask(ctx context.Context, prompt Prompt) error {
	for range pairingTries {
		typed, err := prompt.Ask(ctx)
		if cause := context.Cause(ctx); cause != nil {
			return cause
		}
		if err != nil {
			return fmt.Errorf("ask for the code: %w", err)
		}
		if sameCode(typed, s.want) {
			return nil
		}
	}
	return ErrCode
}
