package entry

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"strings"
)

// Class says who may write to a record. It is part of the record's
// identifier, so that every laptop judges alike, also of kinds it doesn't know.
type Class byte

// The classes of rights.
const (
	Owned      Class = 1 // the person in the identifier, from any of their devices
	Shared     Class = 2 // any member of the staff
	Directors  Class = 3 // directors only
	classAfter Class = 4
)

// Kind numbers what a record is (a prospect, a rep, …). The ledger only
// carries the number; the domain gives it a meaning.
type Kind uint16

// KindSameAs is the one kind that the ledger itself understands: the statement
// that two records are, or are not, the same thing.
const KindSameAs Kind = 14

// RecordID names one record: class, kind, for an owned record its person, and
// 16 bytes that are random or derived from a natural key. It holds raw bytes;
// the text form is what people and files see.
type RecordID string

// NewRecordID builds an identifier. The person is used for [Owned] only.
func NewRecordID(class Class, kind Kind, person PersonID, unique [16]byte) RecordID {
	id := make([]byte, 0, 35)
	id = append(id, byte(class))
	id = binary.BigEndian.AppendUint16(id, uint16(kind))
	if class == Owned {
		id = append(id, person[:]...)
	}
	return RecordID(append(id, unique[:]...))
}

// KeyedUnique derives the unique part from where a record comes from, so that
// two laptops that import one list make the same records. The key is made
// once, at founding, and keeps outsiders from testing guesses.
func KeyedUnique(key [32]byte, source, natural string) [16]byte {
	mac := hmac.New(sha256.New, key[:])
	fmt.Fprintf(mac, "plumbline record v1\x00%d:%s%d:%s", len(source), source, len(natural), natural)
	return [16]byte(mac.Sum(nil))
}

// SameAsID names the statement about two records: one per pair, whatever the
// order they are named in.
func SameAsID(a, b RecordID) RecordID {
	if b < a {
		a, b = b, a
	}
	h := sha256.New()
	fmt.Fprintf(h, "plumbline same-as v1\x00%d:%s%d:%s", len(a), a, len(b), b)
	return NewRecordID(Shared, KindSameAs, PersonID{}, [16]byte(h.Sum(nil)))
}

// Valid reports whether the identifier has a known class and the length that
// goes with it. An empty identifier isn't valid.
func (id RecordID) Valid() bool {
	if len(id) == 0 {
		return false
	}
	switch Class(id[0]) {
	case Owned:
		return len(id) == 35
	case Shared, Directors:
		return len(id) == 19
	}
	return false
}

// Class returns who may write to the record; 0, which nobody may, for what is
// no valid identifier. What another laptop wrote can name anything.
func (id RecordID) Class() Class {
	if !id.Valid() {
		return 0
	}
	return Class(id[0])
}

// Kind returns what the record is; 0 for what is no valid identifier.
func (id RecordID) Kind() Kind {
	if !id.Valid() {
		return 0
	}
	return Kind(binary.BigEndian.Uint16([]byte(id[1:3])))
}

// Person returns the owner of an owned record, else the zero value.
func (id RecordID) Person() PersonID {
	if id.Class() != Owned {
		return PersonID{}
	}
	return PersonID([]byte(id[3:19]))
}

// String gives the text form: lower-case base32 (RFC 4648) without padding.
func (id RecordID) String() string { return base32Text.EncodeToString([]byte(id)) }

// ParseRecordID reads the text form.
func ParseRecordID(text string) (RecordID, error) {
	data, err := decodeText(text)
	if id := RecordID(data); err == nil && id.Valid() {
		return id, nil
	}
	return "", fmt.Errorf("record id %q: %w", text, ErrText)
}

// RecordsFrom returns the first and the last identifier whose text may begin with
// this. ok is false where it is too short to say the kind, or begins none.
func RecordsFrom(text string) (first, last RecordID, ok bool) {
	const saysKind = 5 // characters that hold the class and the kind
	text = strings.ToLower(text)
	for _, size := range []int{19, 35} {
		length := base32Text.EncodedLen(size)
		if len(text) < saysKind || len(text) > length {
			continue
		}
		low, err1 := base32Text.DecodeString(text + strings.Repeat("a", length-len(text)))
		high, err2 := base32Text.DecodeString(text + strings.Repeat("7", length-len(text)))
		if first, last = RecordID(low), RecordID(high); err1 == nil && err2 == nil && first.Valid() && first.Kind() == last.Kind() && len(first) == len(last) {
			return first, last, true
		}
	}
	return "", "", false
}
