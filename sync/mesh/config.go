package mesh

import (
	"cmp"
	"context"
	"crypto/ed25519"
	"errors"
	"io"
	"log/slog"

	"plumbline/sync/entry"
)

// DefaultPort is the TCP port of links and the UDP port of beacons. It lies
// below the ports that systems hand out for outgoing connections, so that it
// is likely to be free at every start.
const DefaultPort = 27047

// MaxMessage is the most that one message may hold, in bytes.
const MaxMessage = 1 << 20

// MaxIntroduction is the most that [Config.Introduce] may return, in bytes.
const MaxIntroduction = 256 << 10

// Config says who this laptop is, whom it admits and where it listens. The
// functions are called from several goroutines, never with a lock of the mesh
// held.
type Config struct {
	Staff  entry.StaffID
	Device ed25519.PrivateKey
	// Certificate returns this laptop's certificate, which a promotion changes.
	Certificate func() []byte
	// Admit judges a certificate by the grants and cuts held. The mesh has
	// checked by then that the other side holds the certificate's key. A
	// device that nothing is held about gets an error that wraps
	// [ErrUnknownDevice]. After whatever changes its answers, call
	// [Mesh.Recheck]: an admission that was under way is judged again.
	Admit func(certificate []byte) (Peer, error)
	// Introduce returns what lets a laptop that hasn't heard of this device's
	// grant learn it: at most [MaxIntroduction] bytes. It is sent only when
	// asked for, and only to a device that is admitted or knows a link key.
	Introduce func() []byte
	// Learn stores what is valid of an introduction. It is called only after
	// Admit said [ErrUnknownDevice]; Admit is then asked once more.
	Learn func(introduction []byte) error
	// LinkKeys returns the usable keys, newest first: the newest is dialled
	// and beaconed with, all are listened for.
	LinkKeys func() [][32]byte
	// FormerKeys returns held keys that aren't usable any more, newest first.
	// Nothing is listened for under them. Laptops that haven't heard of the
	// change are heard, and dialled, with them.
	FormerKeys func() [][32]byte
	// Members returns the public keys of the devices that are admitted now.
	// Each has a key in common with this one, see [PairKey].
	Members func() map[entry.DeviceID]ed25519.PublicKey
	// Straggler returns whom an address led to and the link key that they
	// proved last (see [Peer.LinkKey]), as far as known: both are tried when
	// the newest key gets no answer.
	Straggler func(address string) (device entry.DeviceID, key [32]byte)

	// Port is tried first; if it is taken, any free one. 0 means
	// [DefaultPort], a negative number any free port.
	Port int
	// Host is the address to listen on; empty means all interfaces.
	Host string
	// Beacon turns finding each other on the network on.
	Beacon bool
	// BeaconPort is the UDP port for it; 0 means [DefaultPort].
	BeaconPort int
	// Remembered returns addresses (host:port) to try besides those heard of.
	Remembered func() []string

	Handler Handler
	Log     *slog.Logger
	Random  io.Reader
}

// Peer is an admitted device.
type Peer struct {
	Device entry.DeviceID
	Person entry.PersonID
	Role   entry.Role
	// Address is where the peer listens or, if it dialled, where it came from.
	Address string
	// Listens is true if Address can be dialled again.
	Listens bool
	// LinkKey is the key that the peer has proven to know.
	LinkKey [32]byte
}

// Handler is told of links and their messages. For one link the calls come
// one at a time: Linked, Received in the order sent, Unlinked once. A link of
// a device that replaces another one of it is told only after the old one's
// Unlinked. Different links call at the same time.
type Handler interface {
	Linked(Link)
	// Received may keep the message. The other side may send on only as
	// Received returns, so a slow handler slows its sender and loses nothing.
	// It may call Send, as long as replies don't outgrow what both sides let
	// be under way (see [Link]).
	Received(Link, []byte)
	// Unlinked gives the reason, which is never nil.
	Unlinked(Link, error)
}

// Link is a live connection to a peer.
type Link interface {
	Peer() Peer
	// Send queues one message of at most [MaxMessage] bytes. Messages arrive
	// in order, or the link ends. Send blocks while 8 MiB or 128 messages are
	// under way unhandled, until ctx ends or, after 30 s without progress, the
	// link does. The message may be changed once Send has returned.
	Send(ctx context.Context, message []byte) error
	// Close ends the link at once and doesn't wait for Unlinked. The reason
	// stays on this side.
	Close(reason string)
}

func (c Config) checked() (Config, error) {
	if len(c.Device) != ed25519.PrivateKeySize {
		return c, errors.New("mesh: no device key given")
	}
	if c.Certificate == nil || c.Admit == nil || c.LinkKeys == nil || c.Handler == nil || c.Random == nil {
		return c, errors.New("mesh: Certificate, Admit, LinkKeys, Handler and Random must be given")
	}
	if c.Introduce == nil {
		c.Introduce = func() []byte { return nil }
	}
	if c.Learn == nil {
		c.Learn = func([]byte) error { return nil }
	}
	if c.FormerKeys == nil {
		c.FormerKeys = func() [][32]byte { return nil }
	}
	if c.Members == nil {
		c.Members = func() map[entry.DeviceID]ed25519.PublicKey { return nil }
	}
	if c.Straggler == nil {
		c.Straggler = func(string) (entry.DeviceID, [32]byte) { return entry.DeviceID{}, [32]byte{} }
	}
	if c.Remembered == nil {
		c.Remembered = func() []string { return nil }
	}
	c.Port = cmp.Or(c.Port, DefaultPort)
	c.BeaconPort = cmp.Or(c.BeaconPort, DefaultPort)
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	return c, nil
}
