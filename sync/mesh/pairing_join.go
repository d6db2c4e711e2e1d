package mesh

import (
	"context"
	"crypto/ed25519"
	"crypto/subtle"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
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
	dialer := net.Dialer{Timeout: strangerTime}
	raw, err := dialer.DialContext(ctx, "tcp", withPort(cfg.Address))
	if err != nil {
		return fmt.Errorf("reach the inviting laptop: %w", err)
	}
	defer raw.Close()
	defer context.AfterFunc(ctx, func() { raw.Close() })()
	s, err := cfg.meet(ctx, raw)
	if err != nil {
		return err
	}
	raw.SetDeadline(time.Time{})
	if err := s.agree(ctx, cfg.Prompt); err != nil {
		return err
	}
	return cfg.keep(s)
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
	s := &session{conn: conn, raw: raw, seen: seen}
	s.want, s.mine = seen.codes()
	return s, nil
}

// keep takes what the inviter hands over, if it is of the staff that was
// promised before the codes were compared.
func (cfg JoinConfig) keep(s *session) error {
	data, err := readFrame(s.conn, ed25519.PublicKeySize+MaxPayload)
	if err != nil {
		return fmt.Errorf("%w (%w)", ErrBroken, err)
	}
	if len(data) < ed25519.PublicKeySize {
		return ErrDeclined
	}
	root := ed25519.PublicKey(data[:ed25519.PublicKeySize])
	if rootHash(root, s.seen.inviter.nonce) != s.seen.root {
		err = ErrRoot
	} else {
		err = cfg.Check(root, data[ed25519.PublicKeySize:])
	}
	if err != nil {
		s.conn.Write([]byte{refuses})
		return fmt.Errorf("join: %w", err)
	}
	if _, err := s.conn.Write([]byte{admits}); err != nil {
		return nil // it is kept; only the inviter doesn't know yet
	}
	// Until the inviter has heard it, closing could take the answer back.
	s.conn.CloseWrite()
	raw := s.raw
	raw.SetReadDeadline(time.Now().Add(strangerTime))
	raw.Read(make([]byte, 1))
	return nil
}
