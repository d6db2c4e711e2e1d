package mesh

import (
	"context"
	"crypto/ed25519"
	"io"
	"net/netip"
	"time"
)

// MaxPayload is the most that an inviter may hand over, in bytes. Both people have
// said by then that the other is there.
const MaxPayload = 32 << 20

// MaxPetition is the most that a joiner may answer, in bytes.
const MaxPetition = 8 << 10

// Prompt is the person in front of the screen. Two codes of six digits are
// compared: each screen shows one and asks for the one on the other screen.
type Prompt interface {
	Show(code string) error
	// Ask returns what was typed. It is called again after a wrong code and
	// must return when ctx ends, as it does when the other side gives up.
	Ask(ctx context.Context) (string, error)
}

// Invitation is what the inviter reads out and the joiner types.
type Invitation struct {
	Addresses []netip.AddrPort
	Word      string
	// Until is when the invitation ends by itself.
	Until time.Time
}

// InviteConfig is the inviter's side of a pairing.
type InviteConfig struct {
	Root   ed25519.PublicKey  // the staff's root
	Device ed25519.PrivateKey // the inviting laptop
	// Host and Port say where to listen; by default on all interfaces, on any
	// free port.
	Host string
	Port int
	// Lasts is how long the invitation stands; 0 means ten minutes.
	Lasts    time.Duration
	Prompt   Prompt
	Announce func(Invitation)
	// Offer returns what the joiner needs to petition, at most [MaxPayload]
	// bytes. It is called once both sides have typed the right code.
	Offer func() ([]byte, error)
	// Welcome grants the device and returns what it needs to be a member, at
	// most [MaxPayload] bytes.
	Welcome func(device ed25519.PublicKey, petition []byte) (payload []byte, err error)
	// Carry, if set, is called with the connection once the joiner has kept its
	// welcome. What it returns is what Invite returns.
	Carry  func(ctx context.Context, c *Carrier) error
	Random io.Reader
}

// JoinConfig is the joiner's side of a pairing.
type JoinConfig struct {
	Address string
	Word    string
	Device  ed25519.PrivateKey
	Prompt  Prompt
	// Petition answers the inviter's offer, or gives up: at most
	// [MaxPetition] bytes. That the root is the one promised before the codes
	// were compared has been checked. Without it the petition is empty.
	Petition func(ctx context.Context, root ed25519.PublicKey, offer []byte) ([]byte, error)
	// Check keeps the payload, or refuses it.
	Check func(root ed25519.PublicKey, payload []byte) error
	// Carry, if set, is called with the connection once the welcome is kept.
	// What it returns is what Join returns.
	Carry  func(ctx context.Context, c *Carrier) error
	Random io.Reader
}
