package mesh

import (
	"crypto/ed25519"
	"crypto/hmac"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/binary"
	"fmt"

	"plumbline/sync/entry"
)

// side tells the two ends of a connection apart in everything that is proven
// over it, so that nothing can be sent back to whoever made it.
type side byte

const (
	dialing   side = 'd'
	listening side = 'l'
)

func (s side) other() side {
	if s == dialing {
		return listening
	}
	return dialing
}

type code [sha256.Size]byte

// linkCode shows that its maker knows a link key, on this connection alone.
func linkCode(key [32]byte, from side, staff entry.StaffID, e exporter) code {
	mac := hmac.New(sha256.New, key[:])
	mac.Write([]byte("plumbline link code v1\x00"))
	mac.Write([]byte{byte(from)})
	mac.Write(staff[:])
	mac.Write(e[:])
	return code(mac.Sum(nil))
}

// keyOf finds the key that a code was made with. It tries all of them, so that
// the time taken doesn't tell which one fits.
func keyOf(got code, keys [][32]byte, from side, staff entry.StaffID, e exporter) (key [32]byte, ok bool) {
	for _, k := range keys {
		want := linkCode(k, from, staff, e)
		if subtle.ConstantTimeCompare(got[:], want[:]) == 1 {
			key, ok = k, true
		}
	}
	return key, ok
}

// proof is a laptop's certificate with the signature that shows, on this
// connection alone, that its key is at the other end.
type proof struct {
	Port        uint16 // where the laptop listens
	Signature   []byte
	Certificate []byte
}

func proofMessage(from side, staff entry.StaffID, e exporter, port uint16, certificate []byte) []byte {
	b := []byte("plumbline link proof v1\x00")
	b = append(b, byte(from))
	b = append(b, staff[:]...)
	b = append(b, e[:]...)
	b = binary.BigEndian.AppendUint16(b, port)
	return append(b, certificate...)
}

func (p proof) encode() []byte {
	b := binary.BigEndian.AppendUint16(nil, p.Port)
	b = append(b, p.Signature...)
	return append(b, p.Certificate...)
}

func decodeProof(data []byte) (proof, error) {
	const fixed = 2 + ed25519.SignatureSize
	if len(data) < fixed {
		return proof{}, fmt.Errorf("%w: a proof of %d bytes", ErrFrame, len(data))
	}
	return proof{
		Port:        binary.BigEndian.Uint16(data),
		Signature:   data[2:fixed],
		Certificate: data[fixed:],
	}, nil
}

// device checks the signature and returns whose it is.
func (p proof) device(from side, staff entry.StaffID, e exporter) (entry.DeviceID, error) {
	cert, err := entry.DecodeCertificate(p.Certificate)
	if err != nil {
		return entry.DeviceID{}, err
	}
	if !ed25519.Verify(cert.Device, proofMessage(from, staff, e, p.Port, p.Certificate), p.Signature) {
		return entry.DeviceID{}, ErrProof
	}
	return entry.DeviceOf(cert.Device), nil
}
