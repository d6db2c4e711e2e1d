package mesh

import (
	"cmp"
	"context"
	"crypto/ed25519"
	"crypto/subtle"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/netip"
	"slices"
	"time"
)

// invitationLasts is how long an invitation stands if nothing else is said.
const invitationLasts = 10 * time.Minute

// errOurs marks failures of a pairing that another attempt can't mend.
type errOurs struct{ error }

func (e errOurs) Unwrap() error { return e.error }

// Invite waits for one laptop to join and admits it. It returns nil once that
// laptop has confirmed. It must not be called twice at once with one Prompt.
func Invite(ctx context.Context, cfg InviteConfig) error {
	if err := cfg.check(); err != nil {
		return err
	}
	listener, err := listen(cfg.Host, cfg.Port)
	if err != nil {
		return err
	}
	defer listener.Close()
	word, err := newWord(cfg.Random)
	if err != nil {
		return err
	}
	lasts := cmp.Or(cfg.Lasts, invitationLasts)
	ctx, cancel := context.WithTimeoutCause(ctx, lasts, ErrExpired)
	defer cancel()
	ready := make(chan *session)
	front, err := newFront(listener, slog.New(slog.DiscardHandler), func(ctx context.Context, conn *tls.Conn, raw *budgetConn) {
		cfg.receive(ctx, conn, raw, word, ready)
	})
	if err != nil {
		return err
	}
	done := make(chan struct{})
	go func() { front.run(ctx); close(done) }()
	defer func() { listener.Close(); cancel(); <-done }()
	at, err := netip.ParseAddrPort(listener.Addr().String())
	if err != nil {
		return fmt.Errorf("listen for the joiner: %w", err)
	}
	cfg.Announce(Invitation{Addresses: reachable(at.Addr(), at.Port()), Word: word, Until: time.Now().Add(lasts)})
	return cfg.attend(ctx, ready)
}

func (cfg InviteConfig) check() error {
	if len(cfg.Root) != ed25519.PublicKeySize || len(cfg.Device) != ed25519.PrivateKeySize {
		return errors.New("invite: the staff's root and this laptop's device key must be given")
	}
	if cfg.Prompt == nil || cfg.Announce == nil || cfg.Welcome == nil || cfg.Random == nil {
		return errors.New("invite: Prompt, Announce, Welcome and Random must be given")
	}
	return nil
}

// attend goes through the attempts, one at a time.
func (cfg InviteConfig) attend(ctx context.Context, ready <-chan *session) error {
	var last error
	for range pairingSessions {
		select {
		case <-ctx.Done():
			return errors.Join(context.Cause(ctx), last)
		case s := <-ready:
			last = cfg.pair(ctx, s)
		}
		var ours errOurs
		if last == nil || errors.As(last, &ours) {
			return last
		}
		if ctx.Err() != nil {
			return context.Cause(ctx)
		}
	}
	return fmt.Errorf("%w; the last one: %w", ErrSpent, last)
}

// receive brings a stranger who knows the word up to the codes. Until then it
// says nothing. A second joiner at the same time is turned away.
func (cfg InviteConfig) receive(ctx context.Context, conn *tls.Conn, raw *budgetConn, word string, ready chan<- *session) {
	s, err := cfg.meet(conn, raw, word)
	if err == nil {
		raw.SetDeadline(time.Time{})
		raw.raise(strangerBytes)
		select {
		case ready <- s:
			return
		case <-time.After(strangerTime):
		case <-ctx.Done():
		}
	}
	raw.Close()
}

func (cfg InviteConfig) meet(conn *tls.Conn, raw *budgetConn, word string) (*session, error) {
	e, err := export(conn, pairingLabel)
	if err != nil {
		return nil, err
	}
	var hello struct{ code, bound [32]byte }
	if err := readAll(conn, hello.code[:], hello.bound[:]); err != nil {
		return nil, err
	}
	want := wordCode(word, dialing, e)
	if subtle.ConstantTimeCompare(hello.code[:], want[:]) != 1 {
		return nil, ErrWord
	}
	me, err := newOffer(cfg.Device, cfg.Random)
	if err != nil {
		return nil, err
	}
	root := rootHash(cfg.Root, me.nonce)
	mine := wordCode(word, listening, e)
	if err := writeAll(conn, mine[:], me.nonce[:], me.key, root[:], me.sign(cfg.Device, listening, e)); err != nil {
		return nil, err
	}
	they := offer{key: make([]byte, ed25519.PublicKeySize)}
	signature := make([]byte, ed25519.SignatureSize)
	if err := readAll(conn, they.nonce[:], they.key, signature); err != nil {
		return nil, err
	}
	if !they.signed(signature, dialing, e) || boundTo(e, they) != hello.bound {
		return nil, ErrProof
	}
	s := &session{conn: conn, raw: raw, peer: they.key, seen: transcript{e: e, bound: hello.bound, inviter: me, root: root, joiner: they}}
	s.mine, s.want = s.seen.codes()
	return s, nil
}

// pair is one attempt: codes, then the welcome.
func (cfg InviteConfig) pair(ctx context.Context, s *session) error {
	defer s.raw.Close()
	defer context.AfterFunc(ctx, func() { s.raw.Close() })()
	if err := s.agree(ctx, cfg.Prompt); err != nil {
		return err
	}
	petition, err := cfg.hear(s)
	if err != nil {
		return err
	}
	payload, err := cfg.Welcome(s.seen.joiner.key, petition)
	if err := s.hand([]byte{admits}, payload, err); err != nil {
		return err
	}
	switch v, err := readByte(s.conn); {
	case err != nil:
		return errOurs{ErrUnconfirmed}
	case v != admits:
		return errOurs{fmt.Errorf("%w: it refused what it was given", ErrDeclined)}
	}
	if cfg.Carry == nil {
		return nil
	}
	if err := cfg.Carry(ctx, newCarrier(s)); err != nil {
		return errOurs{err}
	}
	return nil
}

// hear makes the offer and returns the joiner's petition.
func (cfg InviteConfig) hear(s *session) ([]byte, error) {
	var offer []byte
	var err error
	if cfg.Offer != nil {
		offer, err = cfg.Offer()
	}
	if err := s.hand(cfg.Root, offer, err); err != nil {
		return nil, err
	}
	answer, err := readFrame(s.conn, 1+MaxPetition)
	if err != nil {
		return nil, errOurs{fmt.Errorf("%w (%w)", ErrBroken, err)}
	}
	if len(answer) == 0 || answer[0] != admits {
		return nil, errOurs{ErrDeclined}
	}
	return answer[1:], nil
}

// hand sends one frame with something before the payload, or says that nothing
// will come.
func (s *session) hand(before, payload []byte, err error) error {
	if err == nil && len(payload) > MaxPayload {
		err = fmt.Errorf("%w: %d bytes to hand over, at most %d", ErrTooLarge, len(payload), MaxPayload)
	}
	if err != nil {
		s.conn.Write(appendFrame(nil, nil)) // nothing will come
		return errOurs{fmt.Errorf("welcome the new laptop: %w", err)}
	}
	if err := writeFrame(steady{s.conn}, slices.Concat(before, payload)); err != nil {
		return errOurs{ErrUnconfirmed}
	}
	return nil
}

func readAll(r io.Reader, parts ...[]byte) error {
	for _, p := range parts {
		if _, err := io.ReadFull(r, p); err != nil {
			return err
		}
	}
	return nil
}

// writeAll sends the parts in one write, which costs one TLS record.
func writeAll(w io.Writer, parts ...[]byte) error {
	var b []byte
	for _, p := range parts {
		b = append(b, p...)
	}
	_, err := w.Write(b)
	return err
}
