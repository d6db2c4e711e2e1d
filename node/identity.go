package node

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"plumbline/sync/entry"
)

// identity is what makes this laptop a member of its staff: its secrets. It
// lies in the state folder, for the user alone, and in no backup.
type identity struct {
	// Device is the seed of the Ed25519 key pair.
	Device []byte `json:"device_key"`
	// Staff and Root say whose member it is; empty before founding or joining.
	Staff string            `json:"staff,omitempty"`
	Root  ed25519.PublicKey `json:"root_public_key,omitempty"`
	// IDKey derives record ids from natural keys. It never changes.
	IDKey []byte `json:"id_key,omitempty"`
	// FormerIDKey is the id key of the ledger that was written alone, of which the
	// records were taken along: a list that is read again is found by it. It opens
	// nothing.
	FormerIDKey []byte `json:"former_id_key,omitempty"`
	// LinkKeys open links, newest first.
	LinkKeys [][]byte `json:"link_keys,omitempty"`
}

// keptIdentity is the file. A bit that turned in a key would open no link, or find
// no record that a list made before, and nothing would say why. Files from before
// there was a sum have none.
type keptIdentity struct {
	identity
	Sum []byte `json:"sum,omitempty"`
}

// sum is made of what the file says, however it is set.
func (i *identity) sum() ([]byte, error) {
	data, err := json.Marshal(i)
	sum := sha256.Sum256(data)
	return sum[:], err
}

func decodeIdentity(data []byte) (*identity, error) {
	var kept keptIdentity
	decoder := json.NewDecoder(bytes.NewReader(data))
	decoder.DisallowUnknownFields() // else the sum is lost with its name
	if err := decoder.Decode(&kept); err != nil {
		return nil, err
	}
	sum, err := kept.sum()
	if err == nil && (len(kept.Device) != ed25519.SeedSize || kept.Sum != nil && !bytes.Equal(kept.Sum, sum)) {
		err = errors.New("its sum isn't that of its keys")
	}
	return &kept.identity, err
}

const identityFile = "identity.json"

// keySize is the length of the id key and of link keys, in bytes.
const keySize = 32

func (i *identity) public() ed25519.PublicKey { return i.key().Public().(ed25519.PublicKey) }

func (i *identity) key() ed25519.PrivateKey { return ed25519.NewKeyFromSeed(i.Device) }

func (i *identity) founded() bool { return i.Staff != "" }

func (i *identity) staff() (entry.StaffID, error) { return entry.ParseStaffID(i.Staff) }

func (i *identity) linkKeys() [][32]byte {
	keys := make([][32]byte, 0, len(i.LinkKeys))
	for _, k := range i.LinkKeys {
		if len(k) == keySize {
			keys = append(keys, [32]byte(k))
		}
	}
	return keys
}

// maxKeys is how many link keys are kept. A straggler who was away for longer is
// reached by the key in common with it.
const maxKeys = 256

// heldKeys keeps a laptop's link keys among its secrets.
type heldKeys struct{ *Node }

func (h heldKeys) Held() [][32]byte { return h.id().linkKeys() }

func (h heldKeys) Keep(key [32]byte) error {
	h.secrets.Lock()
	defer h.secrets.Unlock()
	if h.hasMoved {
		return errMoving
	}
	id := *h.id()
	id.LinkKeys = addKeys(id.LinkKeys, [][]byte{key[:]})
	if err := id.save(h.cfg.State); err != nil {
		return err
	}
	h.keys.Store(&id)
	return nil
}

// addKeys puts keys in front of those held.
func addKeys(held, keys [][]byte) [][]byte {
	all := slices.Clone(keys)
	for _, k := range held {
		if !slices.ContainsFunc(all, func(other []byte) bool { return bytes.Equal(k, other) }) {
			all = append(all, k)
		}
	}
	return all[:min(len(all), maxKeys)]
}

// loadIdentity reads the state folder's secrets, or makes a device key where
// there are none.
func loadIdentity(state string, random io.Reader) (*identity, error) {
	path := filepath.Join(state, identityFile)
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		// A link that leads nowhere is no sign of a new laptop: its disk may be away.
		if _, err := os.Lstat(path); errors.Is(err, fs.ErrNotExist) {
			return newIdentity(state, random)
		}
	}
	if err != nil {
		return nil, fmt.Errorf("read this laptop's keys: %w", err)
	}
	id, err := decodeIdentity(data)
	if err != nil {
		return nil, fmt.Errorf("%s is damaged, or of a newer version of this program; update it, put the file back from a copy, or move it away and join the staff as a new laptop", path)
	}
	return id, nil
}

func newIdentity(state string, random io.Reader) (*identity, error) {
	id := &identity{Device: make([]byte, ed25519.SeedSize)}
	if _, err := io.ReadFull(random, id.Device); err != nil {
		return nil, fmt.Errorf("read randomness: %w", err)
	}
	return id, id.save(state)
}

// prepare writes the identity under a passing name, to be committed.
func (i *identity) prepare(state string) (*secretFile, error) {
	sum, err := i.sum()
	if err != nil {
		return nil, err
	}
	data, err := json.MarshalIndent(keptIdentity{*i, sum}, "", "  ")
	if err != nil {
		return nil, err
	}
	return newSecret(filepath.Join(state, identityFile), data)
}

func (i *identity) save(state string) error {
	file, err := i.prepare(state)
	if err != nil {
		return err
	}
	defer file.discard()
	return file.commit()
}

// secretFile is a file for the user alone, durable under a passing name.
type secretFile struct{ path, passing string }

func newSecret(path string, data []byte) (*secretFile, error) {
	file, err := os.CreateTemp(filepath.Dir(path), passingSecret)
	if err != nil {
		return nil, fmt.Errorf("write %s: %w", path, err)
	}
	if _, err = file.Write(data); err == nil {
		err = file.Sync()
	}
	s := &secretFile{path: path, passing: file.Name()}
	if err := errors.Join(err, file.Close()); err != nil {
		s.discard()
		return nil, fmt.Errorf("write %s: %w", path, err)
	}
	return s, nil
}

// commit gives the file its name, in the place of another one.
func (s *secretFile) commit() error {
	if err := os.Rename(s.passing, s.path); err != nil {
		return fmt.Errorf("write %s: %w", s.path, err)
	}
	return syncFolder(filepath.Dir(s.path))
}

// discard removes what wasn't committed.
func (s *secretFile) discard() { _ = os.Remove(s.passing) }

// WriteSecret replaces a file as a whole, durably, for the user alone.
func WriteSecret(path string, data []byte) error {
	file, err := newSecret(path, data)
	if err != nil {
		return err
	}
	defer file.discard()
	return file.commit()
}

// syncFolder makes a rename or removal durable where the system can.
func syncFolder(path string) error {
	folder, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("open %s: %w", path, err)
	}
	defer folder.Close()
	// Windows can't sync a folder, and needs not: its renames are durable.
	_ = folder.Sync()
	return nil
}
