package mesh

import (
	"bytes"
	"crypto/ecdh"
	"crypto/ed25519"
	"crypto/hkdf"
	"crypto/sha256"
	"crypto/sha512"
	"errors"
	"fmt"
	"math/big"
	"slices"

	"plumbline/sync/entry"
)

// Two laptops that have each changed the link key without hearing of the other
// share none that either would still take. So each pair of members has a key of
// its own, which follows from their device keys and needs no agreement: a
// Diffie-Hellman secret over X25519 (RFC 7748). A revoked laptop's goes with it.

// PairKey returns the link key that two devices of a staff have in common.
func PairKey(own ed25519.PrivateKey, other ed25519.PublicKey, staff entry.StaffID) (key [32]byte, err error) {
	hash := sha512.Sum512(own.Seed()) // RFC 8032, 5.1.5: its first half is the scalar
	defer clear(hash[:])
	mine, err := ecdh.X25519().NewPrivateKey(hash[:32])
	if err != nil {
		return key, fmt.Errorf("make a pair key: %w", err)
	}
	point, err := montgomery(other)
	if err != nil {
		return key, err
	}
	theirs, err := ecdh.X25519().NewPublicKey(point)
	if err != nil {
		return key, fmt.Errorf("make a pair key: %w", err)
	}
	secret, err := mine.ECDH(theirs)
	if err != nil {
		return key, fmt.Errorf("make a pair key: %w", err)
	}
	defer clear(secret)
	ends := [][]byte{own.Public().(ed25519.PublicKey), other}
	slices.SortFunc(ends, bytes.Compare)
	derived, err := hkdf.Key(sha256.New, secret, staff[:], "plumbline pair key v1"+string(ends[0])+string(ends[1]), len(key))
	copy(key[:], derived)
	return key, err
}

// field is the prime 2^255 - 19.
var field = new(big.Int).Sub(new(big.Int).Lsh(big.NewInt(1), 255), big.NewInt(19))

// montgomery turns an Ed25519 public key into the X25519 one of the same secret:
// u = (1+y)/(1-y) (RFC 7748, 4.1). Public keys may take any time.
func montgomery(key ed25519.PublicKey) ([]byte, error) {
	if len(key) != ed25519.PublicKeySize {
		return nil, errors.New("make a pair key: no public key")
	}
	little := bytes.Clone(key)
	little[31] &= 0x7f // the sign of x
	slices.Reverse(little)
	y := new(big.Int).SetBytes(little)
	one := big.NewInt(1)
	below := new(big.Int).Sub(one, y)
	if below.ModInverse(below.Mod(below, field), field) == nil {
		return nil, errors.New("make a pair key: not a key of anybody")
	}
	u := new(big.Int).Mul(new(big.Int).Add(one, y), below)
	out := u.Mod(u, field).FillBytes(make([]byte, 32))
	slices.Reverse(out)
	return out, nil
}

// pairKey is PairKey, worked out once for each device.
func (m *Mesh) pairKey(member ed25519.PublicKey) ([32]byte, bool) {
	device := entry.DeviceOf(member)
	if known, ok := m.pairKeys.Load(device); ok {
		return known.([32]byte), true
	}
	key, err := PairKey(m.cfg.Device, member, m.cfg.Staff)
	if err != nil {
		m.cfg.Log.Warn("no key in common with a laptop", "device", device, "error", err)
		return key, false
	}
	m.pairKeys.Store(device, key)
	return key, true
}

// pairs returns the keys in common with each member.
func (m *Mesh) pairs() [][32]byte {
	var keys [][32]byte
	for device, member := range m.cfg.Members() {
		if device == m.self {
			continue
		}
		if key, ok := m.pairKey(member); ok {
			keys = append(keys, key)
		}
	}
	return keys
}

// listening returns the keys that are listened for. A former key isn't among
// them: whoever was revoked knows it.
func (m *Mesh) listening() [][32]byte { return slices.Concat(m.cfg.LinkKeys(), m.pairs()) }

// former reports whether a key must be taken for known to whoever was revoked.
func (m *Mesh) former(key [32]byte) bool { return !slices.Contains(m.listening(), key) }

// formerTried is how many former keys are tried on somebody unknown.
const formerTried = 4

// toTry returns the keys to dial an address with, in order: the newest, the one
// in common with whom the address led to, the one that they last proved and, with
// somebody unknown, the others held. A typed address may be anybody's, so that
// everything is tried there.
func (m *Mesh) toTry(address string, typed bool) [][32]byte {
	usable, former := m.cfg.LinkKeys(), m.cfg.FormerKeys()
	held := slices.Concat(usable, former[:min(len(former), formerTried)])
	keys := slices.Clone(usable[:min(len(usable), 1)])
	members := m.cfg.Members()
	device, proved := m.plan.known(address)
	if device == (entry.DeviceID{}) {
		device, proved = m.cfg.Straggler(address)
	}
	if member, ok := members[device]; ok && device != m.self {
		if key, ok := m.pairKey(member); ok {
			keys = append(keys, key)
		}
	}
	if slices.Contains(usable, proved) || slices.Contains(former, proved) {
		keys = append(keys, proved)
	}
	if typed || device == (entry.DeviceID{}) {
		keys = append(keys, held...)
	}
	if typed {
		keys = append(keys, m.pairs()...)
	}
	return distinct(keys)
}

func distinct(keys [][32]byte) [][32]byte {
	var out [][32]byte
	for _, key := range keys {
		if !slices.Contains(out, key) {
			out = append(out, key)
		}
	}
	return out
}
