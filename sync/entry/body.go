package entry

import (
	"fmt"

	"plumbline/sync/wire"
)

// plain is the body format without encryption. Other numbers are left for
// sealed bodies, in which values but never addresses are encrypted.
const plain = 1

// BodyKind says what an entry is for.
type BodyKind byte

// The kinds of body. A number that a program doesn't know is kept and relayed.
const (
	KindGenesis    BodyKind = 1 // first entry of a log: whose it is
	KindChanges    BodyKind = 2 // writes to registers of one record
	KindRetirement BodyKind = 3 // hides a record as its author had read it
	KindKeep       BodyKind = 4 // answers retirements that hadn't seen it
	KindGrant      BodyKind = 5 // control: admits a device
	KindCut        BodyKind = 6 // control: ends a device's standing
	KindErasure    BodyKind = 7 // control: entries that fold as nothing
	KindLinkKey    BodyKind = 8 // control: a new link key's hash
	kindAfter      BodyKind = 9
)

// Body is what an entry says. Exactly the field that goes with Kind is set.
type Body struct {
	// Salt keeps the digest in the header from giving away short contents
	// once the bytes are erased.
	Salt [16]byte
	Kind BodyKind

	Genesis *Genesis
	Changes []Change
	// Source names the list that changes were imported from, or says that they were
	// edited in an export; empty for what a person wrote by hand. An import replaces
	// only what came from its own source.
	Source     string
	Retirement *Retirement
	Grant      *Grant
	Cut        *Cut
	Erasure    *Erasure
	LinkKey    *LinkKey
	// Unknown holds the payload of a kind newer than this program.
	Unknown []byte
}

// Known reports whether this program understands the body.
func (b Body) Known() bool { return b.Kind > 0 && b.Kind < kindAfter }

// Retirement hides a record. It isn't a write to a register: it stands as
// long as everything applied to the record, and to what refers to it, had
// been read by its author.
type Retirement struct {
	// Heads names, for each branch that wrote there, the last applied entry
	// that the author had read.
	Heads []ID
	// SetAside lists entries below those heads that weren't applied then.
	SetAside []ID
}

func (b Body) encode() []byte {
	out := make([]byte, 0, 256)
	out = append(out, plain)
	out = append(out, b.Salt[:]...)
	out = append(out, byte(b.Kind))
	switch b.Kind {
	case KindGenesis:
		return b.Genesis.append(out)
	case KindChanges:
		return appendChanges(wire.AppendBytes(out, b.Source), b.Changes)
	case KindRetirement:
		return AppendIDs(AppendIDs(out, b.Retirement.Heads), b.Retirement.SetAside)
	case KindKeep:
		return out
	case KindGrant:
		return b.Grant.append(out)
	case KindCut:
		return b.Cut.append(out)
	case KindErasure:
		return b.Erasure.append(out)
	case KindLinkKey:
		return b.LinkKey.append(out)
	}
	return append(out, b.Unknown...)
}

// DecodeBody reads the bytes of a body. A kind that this program doesn't know
// is no error: see [Body.Known].
func DecodeBody(data []byte) (Body, error) {
	d := decode(data)
	if f := d.Byte(); d.Err == nil && f != plain {
		return Body{}, fmt.Errorf("%w: body of format %d, this program reads format %d: update it", ErrMalformed, f, plain)
	}
	b := Body{Salt: d.Array16(), Kind: BodyKind(d.Byte())}
	switch b.Kind {
	case KindGenesis:
		b.Genesis = d.genesis()
	case KindChanges:
		b.Source, b.Changes = d.Text(), d.changes()
	case KindRetirement:
		b.Retirement = &Retirement{Heads: d.ids(), SetAside: d.ids()}
	case KindKeep:
	case KindGrant:
		b.Grant = d.grant()
	case KindCut:
		b.Cut = d.cut()
	case KindErasure:
		b.Erasure = d.erasure()
	case KindLinkKey:
		b.LinkKey = d.linkKey()
	default:
		b.Unknown, d.Rest = d.Rest, nil
	}
	if err := d.Done(); err != nil {
		return Body{}, fmt.Errorf("%w: body: %w", ErrMalformed, err)
	}
	return b, nil
}
