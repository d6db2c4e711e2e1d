package mesh

import (
	"context"
	"crypto/ed25519"
	"crypto/subtle"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"slices"
	"time"
)

// Join asks the laptop at cfg.Address to be admitted. It returns nil once
// cfg.Check has kept what it was given.
func Join(ctx context.Context, cfg JoinConfig) error {
	if len(cfg.Device) != ed25519.PrivateKeySize {
		return errors.New("join: this laptop's device key must be given")
	}
	if cfg.Prompt == nil || cfg.Check == nil || cfg.Random == nil {
		return errors.New("join: Prompt, Check and Random must be given")
	}
	raw, err := reach(ctx, cfg.Address)
	if err != nil {
		return fmt.Errorf("reach the inviting laptop: %w", err)
	}
	defer raw.Close()
	stop := context.AfterFunc(ctx, func() { raw.Close() })
	defer stop()
	s, err := cfg.meet(ctx, raw)
	if err != nil {
		return err
	}
	raw.SetDeadline(time.Time{})
	if err := s.agree(ctx, cfg.Prompt); err != nil {
		return err
	}
	return cfg.keep(ctx, s, stop)
}

// reach connects with an address as it was typed, one way after the other.
func reach(ctx context.Context, address string) (conn net.Conn, err error) {
	dialer := net.Dialer{Timeout: strangerTime}
	for _, way := range zoned(address) {
		if conn, err = dialer.DialContext(ctx, "tcp", way); err == nil {
			return conn, nil
		}
	}
	return nil, err
}

func (cfg JoinConfig) meet(ctx context.Context, raw net.Conn) (*session, error) {
	raw.SetDeadline(time.Now().Add(strangerTime))
	conn := tls.Client(raw, dialTLS())
	if err := conn.HandshakeContext(ctx); err != nil {
		return nil, fmt.Errorf("secure the connection: %w", err)
	}
	e, err := export(conn, pairingLabel)
	if err != nil {
		return nil, err
	}
	me, err := newOffer(cfg.Device, cfg.Random)
	if err != nil {
		return nil, err
	}
	mine, bound := wordCode(cfg.Word, dialing, e), boundTo(e, me)
	if err := writeAll(conn, mine[:], bound[:]); err != nil {
		return nil, err
	}
	seen := transcript{e: e, bound: bound, joiner: me, inviter: offer{key: make([]byte, ed25519.PublicKeySize)}}
	var got code
	signature := make([]byte, ed25519.SignatureSize)
	they := &seen.inviter
	if err := readAll(conn, got[:], they.nonce[:], they.key, seen.root[:], signature); err != nil {
		return nil, fmt.Errorf("%w (%w)", ErrWord, err)
	}
	want := wordCode(cfg.Word, listening, e)
	if subtle.ConstantTimeCompare(got[:], want[:]) != 1 || !they.signed(signature, listening, e) {
		return nil, ErrProof
	}
	if err := writeAll(conn, me.nonce[:], me.key, me.sign(cfg.Device, dialing, e)); err != nil {
		return nil, err
	}
	s := &session{conn: conn, raw: raw, peer: they.key, seen: seen}
	s.want, s.mine = seen.codes()
	return s, nil
}

// petition answers the inviter's offer, if it is of the staff that was promised
// before the codes were compared.
func (cfg JoinConfig) petition(ctx context.Context, s *session) (ed25519.PublicKey, error) {
	data, err := readFrame(s.conn, ed25519.PublicKeySize+MaxPayload)
	if err != nil {
		return nil, fmt.Errorf("%w (%w)", ErrBroken, err)
	}
	if len(data) < ed25519.PublicKeySize {
		return nil, ErrDeclined
	}
	root := ed25519.PublicKey(data[:ed25519.PublicKeySize])
	var petition []byte
	if rootHash(root, s.seen.inviter.nonce) != s.seen.root {
		err = ErrRoot
	} else if cfg.Petition != nil {
		petition, err = cfg.Petition(ctx, root, data[ed25519.PublicKeySize:])
	}
	if err != nil {
		s.conn.Write(appendFrame(nil, nil))
		return nil, fmt.Errorf("join: %w", err)
	}
	if err := writeFrame(s.conn, slices.Concat([]byte{admits}, petition)); err != nil {
		return nil, ErrBroken
	}
	return root, nil
}

// keep takes what the inviter hands over. Once Check is asked, the end of ctx cuts
// nothing off: what is kept then is kept for good, so the inviter has to hear of
// it, even if whoever asked for it has gone. A page leaves the form by which it
// joined as soon as it sees the staff.
func (cfg JoinConfig) keep(ctx context.Context, s *session, stop func() bool) error {
	root, err := cfg.petition(ctx, s)
	if err != nil {
		return err
	}
	data, err := readFrame(s.conn, 1+MaxPayload)
	if err != nil {
		return fmt.Errorf("%w (%w)", ErrBroken, err)
	}
	if len(data) == 0 || data[0] != admits {
		return ErrDeclined
	}
	if !stop() {
		return ctx.Err()
	}
	if err := cfg.Check(root, data[1:]); err != nil {
		s.conn.Write([]byte{refuses})
		return fmt.Errorf("join: %w", err)
	}
	if _, err := s.conn.Write([]byte{admits}); err != nil {
		return nil // it is kept; only the inviter doesn't know yet
	}
	if cfg.Carry != nil {
		defer context.AfterFunc(ctx, func() { s.raw.Close() })()
		return cfg.Carry(ctx, newCarrier(s))
	}
	// Until the inviter has heard it, closing could take the answer back.
	s.goodbye()
	return nil
}

// goodbye waits until the other side has heard everything.
func (s *session) goodbye() {
	s.conn.CloseWrite()
	s.raw.SetReadDeadline(time.Now().Add(strangerTime))
	s.raw.Read(make([]byte, 1))
}
