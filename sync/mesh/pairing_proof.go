package mesh

import (
	"crypto/ed25519"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"strings"
)

// The pairing, over a TLS session with exporter value E, in fixed lengths:
//
//	joiner    code over E by the word, hash of (E, its nonce and key)
//	inviter   code over E by the word, nonce, key, hash of (root, nonce), signature
//	joiner    nonce, key, signature
//	          both show one code of six digits and ask for the other one
//	both      yes, once the right one is typed
//	inviter   frame: root, offer
//	joiner    frame: yes, petition
//	inviter   frame: yes, payload
//	joiner    yes, once it is kept
//
// From then on both may carry messages. No frame says that a side gives up.
//
//	2026-11: offer and petition.
//
// The joiner is bound to its nonce before it sees the inviter's, and the
// inviter has given its own before it sees the joiner's. Somebody in the
// middle has to do both with two different E and so gets codes that differ,
// but for one chance in a million for each code.

type nonce [32]byte

// offer is what one side shows of itself.
type offer struct {
	nonce nonce
	key   ed25519.PublicKey
}

// transcript is everything that both have seen when the codes are made.
type transcript struct {
	e       exporter
	bound   [32]byte // the joiner's hash
	inviter offer
	root    [32]byte // the inviter's hash
	joiner  offer
}

func wordCode(word string, from side, e exporter) code {
	mac := hmac.New(sha256.New, []byte(plainWord(word)))
	mac.Write([]byte("plumbline pairing word v1\x00"))
	mac.Write([]byte{byte(from)})
	mac.Write(e[:])
	return code(mac.Sum(nil))
}

func boundTo(e exporter, o offer) [32]byte {
	return digest("plumbline pairing offer v1", e[:], o.nonce[:], o.key)
}

func rootHash(root ed25519.PublicKey, n nonce) [32]byte {
	return digest("plumbline pairing root v1", root, n[:])
}

// digest hashes parts of fixed lengths under a purpose.
func digest(purpose string, parts ...[]byte) [32]byte {
	h := sha256.New()
	h.Write(append([]byte(purpose), 0))
	for _, p := range parts {
		h.Write(p)
	}
	return [32]byte(h.Sum(nil))
}

// codes returns the one that the inviter shows and the one that the joiner
// shows. They aren't secret: whoever hears them can't bend them.
func (t transcript) codes() (inviter, joiner string) {
	d := digest("plumbline pairing codes v1", t.e[:], t.bound[:],
		t.inviter.nonce[:], t.inviter.key, t.root[:], t.joiner.nonce[:], t.joiner.key)
	return sixDigits(d[:8]), sixDigits(d[8:16])
}

func sixDigits(d []byte) string {
	return fmt.Sprintf("%06d", binary.BigEndian.Uint64(d)%1_000_000)
}

func sameCode(typed, want string) bool {
	return strings.Map(func(r rune) rune {
		if r == ' ' || r == '-' || r == '\n' || r == '\r' || r == '\t' {
			return -1
		}
		return r
	}, typed) == want
}

func offerMessage(from side, e exporter) []byte {
	b := append([]byte("plumbline pairing key v1\x00"), byte(from))
	return append(b, e[:]...)
}

// sign shows that the side holds the key that it offers.
func (o offer) sign(key ed25519.PrivateKey, from side, e exporter) []byte {
	return ed25519.Sign(key, offerMessage(from, e))
}

func (o offer) signed(signature []byte, from side, e exporter) bool {
	return ed25519.Verify(o.key, offerMessage(from, e), signature)
}
