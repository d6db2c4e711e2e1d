package entry

import (
	"bytes"
	"cmp"
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/base32"
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// The identifiers are distinct types, so that one can't be passed for another.
type (
	// StaffID names a staff: the hash of its root's public key.
	StaffID [16]byte
	// PersonID names who owns what they write. It is random and says nothing.
	PersonID [16]byte
	// DeviceID names one laptop's key pair: the hash of its public key.
	DeviceID [16]byte
	// LogID names one unbroken run of writing by one device. It is derived
	// from the log's first entry.
	LogID [16]byte
	// CertificateID is the hash of a certificate's bytes.
	CertificateID [16]byte
	// Hash is a log's running hash at one entry.
	Hash [32]byte
)

// ID names one entry for good. The hash tells the branches of a forked log
// apart, so an ID never means two entries.
type ID struct {
	Log  LogID
	Seq  uint64
	Hash [16]byte
}

// ErrText is returned when the text form of an identifier can't be read.
var ErrText = errors.New("not an identifier of this kind")

var base32Text = base32.NewEncoding("abcdefghijklmnopqrstuvwxyz234567").WithPadding(base32.NoPadding)

// DeviceOf returns the identifier of the device that holds the key.
func DeviceOf(key ed25519.PublicKey) DeviceID { return DeviceID(tagged("plumbline device v1", key)) }

// StaffOf returns the identifier of the staff whose root holds the key.
func StaffOf(root ed25519.PublicKey) StaffID { return StaffID(tagged("plumbline staff v1", root)) }

// tagged hashes with a purpose in front, so that a hash made for one purpose
// never equals one made for another.
func tagged(purpose string, data []byte) [16]byte {
	h := sha256.New()
	h.Write([]byte(purpose))
	h.Write([]byte{0})
	h.Write(data)
	return [16]byte(h.Sum(nil))
}

func (id StaffID) String() string       { return base32Text.EncodeToString(id[:]) }
func (id PersonID) String() string      { return base32Text.EncodeToString(id[:]) }
func (id DeviceID) String() string      { return base32Text.EncodeToString(id[:]) }
func (id LogID) String() string         { return base32Text.EncodeToString(id[:]) }
func (id CertificateID) String() string { return base32Text.EncodeToString(id[:]) }

// String gives log, sequence number and hash, joined by dots.
func (id ID) String() string {
	return id.Log.String() + "." + strconv.FormatUint(id.Seq, 10) + "." + base32Text.EncodeToString(id.Hash[:])
}

// Compare orders IDs by log, sequence number and hash. The order means
// nothing; it only makes lists equal on every laptop.
func (id ID) Compare(other ID) int {
	return cmp.Or(
		bytes.Compare(id.Log[:], other.Log[:]),
		cmp.Compare(id.Seq, other.Seq),
		bytes.Compare(id.Hash[:], other.Hash[:]),
	)
}

// ParseID reads the text form that [ID.String] gives.
func ParseID(text string) (ID, error) {
	parts := strings.Split(text, ".")
	if len(parts) != 3 {
		return ID{}, fmt.Errorf("entry id %q: %w", text, ErrText)
	}
	log, err1 := parse16(parts[0])
	seq, err2 := strconv.ParseUint(parts[1], 10, 64)
	hash, err3 := parse16(parts[2])
	if err1 != nil || err2 != nil || err3 != nil {
		return ID{}, fmt.Errorf("entry id %q: %w", text, ErrText)
	}
	id := ID{Log: log, Seq: seq, Hash: hash}
	if id.String() != strings.ToLower(text) { // a number with zeros in front
		return ID{}, fmt.Errorf("entry id %q: %w", text, ErrText)
	}
	return id, nil
}

// ParsePersonID reads the text form of a person's identifier.
func ParsePersonID(text string) (PersonID, error) { return parseText[PersonID]("person", text) }

// ParseLogID reads the text form of a log's identifier.
func ParseLogID(text string) (LogID, error) { return parseText[LogID]("log", text) }

// ParseDeviceID reads the text form of a device's identifier.
func ParseDeviceID(text string) (DeviceID, error) { return parseText[DeviceID]("device", text) }

// ParseStaffID reads the text form of a staff's identifier.
func ParseStaffID(text string) (StaffID, error) { return parseText[StaffID]("staff", text) }

func parseText[T ~[16]byte](what, text string) (T, error) {
	id, err := parse16(text)
	if err != nil {
		return T{}, fmt.Errorf("%s id %q: %w", what, text, ErrText)
	}
	return T(id), nil
}

func parse16(text string) ([16]byte, error) {
	data, err := decodeText(text)
	if err != nil || len(data) != 16 {
		return [16]byte{}, ErrText
	}
	return [16]byte(data), nil
}

// decodeText reads letters of either size. Bits that the last letter has too
// many, and breaks between lines, would make several texts of one identifier.
func decodeText(text string) ([]byte, error) {
	text = strings.ToLower(text)
	data, err := base32Text.DecodeString(text)
	if err == nil && base32Text.EncodeToString(data) != text {
		err = ErrText
	}
	return data, err
}
