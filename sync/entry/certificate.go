package entry

import (
	"crypto/ed25519"
	"encoding/binary"
	"fmt"
)

// Role says what a certificate allows.
type Role byte

// The roles. A number that a program doesn't know has a scout's rights.
const (
	RoleScout    Role = 1 // own records and shared ones
	RoleDirector Role = 2 // also the staff's own records, grants and cuts
)

func (r Role) String() string {
	if r == RoleDirector {
		return "director"
	}
	return "scout"
}

// Certificate says whose device a key is and what it may do. It carries no
// name. It counts while a grant that counts carries exactly its bytes.
type Certificate struct {
	Opaque [16]byte // random, so that equal contents make different certificates
	Person PersonID
	Role   Role
	Device ed25519.PublicKey
	// Generation rises when a staff is recovered from its root.
	Generation uint64
	// Path holds the certificates between the root and this one.
	Path []CertificateID
}

// Rank orders certificates. It decides whose word binds whom.
type Rank struct {
	Generation uint64
	Depth      int
}

// Above reports whether r ranks strictly above s: a later generation, or
// nearer to the root within one.
func (r Rank) Above(s Rank) bool {
	if r.Generation != s.Generation {
		return r.Generation > s.Generation
	}
	return r.Depth < s.Depth
}

// Rank returns the certificate's rank.
func (c Certificate) Rank() Rank { return Rank{Generation: c.Generation, Depth: len(c.Path) + 1} }

// Encode returns the certificate's bytes, which are what a grant carries.
func (c Certificate) Encode() []byte {
	b := make([]byte, 0, 128)
	b = append(b, Version)
	b = append(b, c.Opaque[:]...)
	b = append(b, c.Person[:]...)
	b = append(b, byte(c.Role))
	b = append(b, c.Device...)
	b = binary.AppendUvarint(b, c.Generation)
	b = binary.AppendUvarint(b, uint64(len(c.Path)))
	for _, id := range c.Path {
		b = append(b, id[:]...)
	}
	return b
}

// CertificateOf returns the identifier of a certificate's bytes.
func CertificateOf(data []byte) CertificateID {
	return CertificateID(tagged("plumbline certificate v1", data))
}

// DecodeCertificate reads a certificate's bytes.
func DecodeCertificate(data []byte) (Certificate, error) {
	d := decode(data)
	if v := d.Byte(); d.Err == nil && v != Version {
		return Certificate{}, fmt.Errorf("%w: certificate of version %d, this program reads version %d: update it", ErrMalformed, v, Version)
	}
	c := Certificate{Opaque: d.Array16(), Person: d.Array16(), Role: Role(d.Byte())}
	c.Device = ed25519.PublicKey(d.Take(ed25519.PublicKeySize))
	c.Generation = d.Uvarint()
	for range d.Count() {
		c.Path = append(c.Path, d.Array16())
	}
	if err := d.Done(); err != nil {
		return Certificate{}, fmt.Errorf("%w: certificate: %w", ErrMalformed, err)
	}
	return c, nil
}
