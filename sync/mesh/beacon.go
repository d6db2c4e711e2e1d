package mesh

import (
	"crypto/cipher"
	"crypto/ed25519"
	"crypto/hkdf"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"net/netip"

	"golang.org/x/crypto/chacha20poly1305"

	"plumbline/sync/entry"
)

// A beacon is 152 bytes that look random to whoever has no link key: a random
// nonce, then sealed
//
//	public key 32, port 2, number of addresses 1, addresses 4 each (3 places,
//	the rest zero), zero 1, signature 64
//
// or the number 255, and in the places the last 8 bytes of an IPv6 address of the
// link (fe80::/64), and zeros.
//
// It only proposes addresses. Who is there is proven by the handshake, so an
// old beacon sent again by somebody else leads nowhere.
const (
	beaconAddresses = 3
	beaconLocal     = 255
	beaconSigned    = ed25519.PublicKeySize + 2 + 1 + 4*beaconAddresses + 1
	beaconPlain     = beaconSigned + ed25519.SignatureSize
	beaconSize      = chacha20poly1305.NonceSizeX + beaconPlain + chacha20poly1305.Overhead
)

// sighting is what a beacon says.
type sighting struct {
	Device    entry.DeviceID
	Key       [32]byte // that it was sealed under
	Port      uint16
	Addresses []netip.Addr // IPv4, or one of the link's IPv6
}

// beaconSeal derives a key for beacons alone, so that no code of a handshake
// and no beacon ever have to do with the same key.
func beaconSeal(link [32]byte, staff entry.StaffID) (cipher.AEAD, error) {
	key, err := hkdf.Key(sha256.New, link[:], staff[:], "plumbline beacon v1", chacha20poly1305.KeySize)
	if err != nil {
		return nil, fmt.Errorf("derive the beacon key: %w", err)
	}
	return chacha20poly1305.NewX(key)
}

func beaconMessage(staff entry.StaffID, nonce, signed []byte) []byte {
	b := append([]byte("plumbline beacon v1\x00"), staff[:]...)
	return append(append(b, nonce...), signed...)
}

// sealBeacon makes a beacon. No two are alike in any part.
func sealBeacon(cfg Config, key [32]byte, port uint16, addresses []netip.Addr) ([]byte, error) {
	aead, err := beaconSeal(key, cfg.Staff)
	if err != nil {
		return nil, err
	}
	nonce := make([]byte, chacha20poly1305.NonceSizeX, beaconSize)
	if _, err := io.ReadFull(cfg.Random, nonce); err != nil {
		return nil, fmt.Errorf("read randomness: %w", err)
	}
	plain := make([]byte, 0, beaconPlain)
	plain = append(plain, cfg.Device.Public().(ed25519.PublicKey)...)
	plain = binary.BigEndian.AppendUint16(plain, port)
	if plain, err = appendPlaces(plain, addresses); err != nil {
		return nil, err
	}
	plain = plain[:beaconSigned] // the rest is zero
	plain = append(plain, ed25519.Sign(cfg.Device, beaconMessage(cfg.Staff, nonce, plain))...)
	return aead.Seal(nonce, nonce, plain, nil), nil
}

func appendPlaces(plain []byte, addresses []netip.Addr) ([]byte, error) {
	if len(addresses) == 1 && isLocal(addresses[0]) {
		return append(append(plain, beaconLocal), addresses[0].AsSlice()[8:]...), nil
	}
	n := min(len(addresses), beaconAddresses)
	plain = append(plain, byte(n))
	for _, a := range addresses[:n] {
		if !a.Is4() {
			return nil, errors.New("a beacon carries IPv4 addresses, or one of the link's IPv6")
		}
		plain = append(plain, a.AsSlice()...)
	}
	return plain, nil
}

func readPlaces(plain []byte) ([]netip.Addr, bool) {
	n, places := int(plain[0]), plain[1:]
	if n == beaconLocal {
		return []netip.Addr{netip.AddrFrom16([16]byte(append([]byte{0xfe, 0x80, 7: 0}, places[:8]...)))}, true
	}
	if n > beaconAddresses {
		return nil, false
	}
	var addresses []netip.Addr
	for i := range n {
		addresses = append(addresses, netip.AddrFrom4([4]byte(places[4*i:])))
	}
	return addresses, true
}

// claim is what a beacon says, whoever says it.
type claim struct {
	sighting
	public             ed25519.PublicKey
	message, signature []byte
}

// isSigned reports whether it is the device itself that says so. It costs ten
// times what reading it does.
func (c claim) isSigned() bool { return ed25519.Verify(c.public, c.message, c.signature) }

// openBeacon reads a beacon of this staff. Anything else on the port, and
// there may be anything, is just not one.
func openBeacon(staff entry.StaffID, keys [][32]byte, packet []byte) (sighting, bool) {
	c, ok := unsealBeacon(staff, keys, packet)
	return c.sighting, ok && c.isSigned()
}

// unsealBeacon reads a beacon without asking who sent it.
func unsealBeacon(staff entry.StaffID, keys [][32]byte, packet []byte) (claim, bool) {
	if len(packet) != beaconSize {
		return claim{}, false
	}
	nonce, sealed := packet[:chacha20poly1305.NonceSizeX], packet[chacha20poly1305.NonceSizeX:]
	for _, key := range keys {
		aead, err := beaconSeal(key, staff)
		if err != nil {
			return claim{}, false
		}
		if plain, err := aead.Open(nil, nonce, sealed, nil); err == nil {
			c, ok := readBeacon(staff, nonce, plain)
			c.Key = key
			return c, ok
		}
	}
	return claim{}, false
}

func readBeacon(staff entry.StaffID, nonce, plain []byte) (claim, bool) {
	signed, signature := plain[:beaconSigned], plain[beaconSigned:]
	public := ed25519.PublicKey(signed[:ed25519.PublicKeySize])
	rest := signed[ed25519.PublicKeySize:]
	addresses, ok := readPlaces(rest[2:])
	if !ok {
		return claim{}, false
	}
	c := claim{public: public, message: beaconMessage(staff, nonce, signed), signature: signature}
	c.Device, c.Port = entry.DeviceOf(public), binary.BigEndian.Uint16(rest)
	c.Addresses = addresses
	return c, true
}
