package entry

import (
	"encoding/binary"

	"plumbline/sync/wire"
)

// Genesis is a log's first entry: the log's identifier is derived from it, so
// what the log may do is one fact about it, for good.
type Genesis struct {
	// Control marks a log of control entries (grants, cuts, keys, erasures).
	Control bool
	// Device is the Ed25519 public key that signs the log.
	Device []byte
	// Certificate holds the bytes of the device's certificate; a log of the
	// root itself has none.
	Certificate []byte
	Nonce       [16]byte
}

// Grant admits a device by its certificate.
type Grant struct {
	Certificate []byte
	// Readmits names cuts that don't bind this certificate.
	Readmits []ID
}

// Beyond says what a device may still do past a cut's heads.
type Beyond byte

// What a cut can leave.
const (
	BeyondNothing Beyond = 0 // revocation
	BeyondScout   Beyond = 1 // demotion: a scout's rights
)

// Cut ends what a device may do. It names the last accepted entry of each of
// its logs; a log it doesn't name is accepted to 0.
type Cut struct {
	Device DeviceID
	Beyond Beyond
	Heads  []ID
	// Replaces names earlier cuts that this one raises.
	Replaces []ID
}

// Erasure names entries, or whole records, that fold as nothing from now on.
type Erasure struct {
	Entries []ErasedEntry
	Records []RecordID
}

// ErasedEntry repeats which values the erased entry replaced, so that nothing
// older comes back in its place.
type ErasedEntry struct {
	ID     ID
	Record RecordID
	Edges  []Edge
}

// Edge says which values of one register an entry replaced.
type Edge struct {
	Register
	Replaces []ID
}

// LinkKey makes a new link key known by its hash, with the heads of the
// control logs that its author had seen.
type LinkKey struct {
	Hash [32]byte
	Seen []ID
}

func (g *Genesis) append(b []byte) []byte {
	control := byte(0)
	if g.Control {
		control = 1
	}
	b = append(b, control)
	b = wire.AppendBytes(b, g.Device)
	b = wire.AppendBytes(b, g.Certificate)
	return append(b, g.Nonce[:]...)
}

func (d *decoder) genesis() *Genesis {
	return &Genesis{Control: d.Byte() != 0, Device: d.Bytes(), Certificate: d.Bytes(), Nonce: d.Array16()}
}

func (g *Grant) append(b []byte) []byte {
	return AppendIDs(wire.AppendBytes(b, g.Certificate), g.Readmits)
}

func (d *decoder) grant() *Grant { return &Grant{Certificate: d.Bytes(), Readmits: d.ids()} }

func (c *Cut) append(b []byte) []byte {
	b = append(b, c.Device[:]...)
	b = append(b, byte(c.Beyond))
	return AppendIDs(AppendIDs(b, c.Heads), c.Replaces)
}

func (d *decoder) cut() *Cut {
	return &Cut{Device: d.Array16(), Beyond: Beyond(d.Byte()), Heads: d.ids(), Replaces: d.ids()}
}

func (e *Erasure) append(b []byte) []byte {
	b = binary.AppendUvarint(b, uint64(len(e.Entries)))
	for _, x := range e.Entries {
		b = AppendID(b, x.ID)
		b = wire.AppendBytes(b, x.Record)
		b = appendEdges(b, x.Edges)
	}
	b = binary.AppendUvarint(b, uint64(len(e.Records)))
	for _, r := range e.Records {
		b = wire.AppendBytes(b, r)
	}
	return b
}

// An edge is written like a change that clears, which is what it means.
func appendEdges(b []byte, edges []Edge) []byte {
	changes := make([]Change, len(edges))
	for i, e := range edges {
		changes[i] = Change{Register: e.Register, Replaces: e.Replaces}
	}
	return appendChanges(b, changes)
}

func (d *decoder) erasure() *Erasure {
	var e Erasure
	for range d.Count() {
		x := ErasedEntry{ID: d.id(), Record: RecordID(d.Text())}
		for _, c := range d.changes() {
			x.Edges = append(x.Edges, Edge{Register: c.Register, Replaces: c.Replaces})
		}
		e.Entries = append(e.Entries, x)
	}
	for range d.Count() {
		e.Records = append(e.Records, RecordID(d.Text()))
	}
	return &e
}

func (k *LinkKey) append(b []byte) []byte {
	return AppendIDs(append(b, k.Hash[:]...), k.Seen)
}

func (d *decoder) linkKey() *LinkKey {
	var k LinkKey
	k.Hash = d.Array32()
	k.Seen = d.ids()
	return &k
}
