package mesh

import (
	"context"
	"errors"
	"net/netip"
)

// Mesh is this laptop's side of all links.
type Mesh struct {
	cfg Config
}

// Start listens, looks for the other laptops and links to them until Close.
func Start(ctx context.Context, cfg Config) (*Mesh, error) {
	cfg, err := cfg.checked()
	if err != nil {
		return nil, err
	}
	return nil, errors.ErrUnsupported
}

// Close ends all links, waits for their Unlinked calls and stops listening.
func (m *Mesh) Close() error { return nil }

// Address returns where this laptop listens.
func (m *Mesh) Address() netip.AddrPort { return netip.AddrPort{} }

// Addresses returns where other laptops may reach this one.
func (m *Mesh) Addresses() []netip.AddrPort { return nil }

// Dial links to the laptop at host:port.
func (m *Mesh) Dial(ctx context.Context, address string) error { return errors.ErrUnsupported }

// Recheck judges all links again and closes at once those no longer admitted.
func (m *Mesh) Recheck() {}

// Links returns the live links.
func (m *Mesh) Links() []Link { return nil }
