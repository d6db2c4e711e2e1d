package entry

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/hex"
	"strings"
	"testing"
)

// The golden bytes of the format, spelled out part by part by hand. They may
// only change together with Version: logs written before must stay readable.

var (
	salt   = repeat(0x5a, 16)
	logA   = repeat(0xa1, 16)
	hashA  = repeat(0xb2, 16)
	person = repeat(0xc3, 16)
	unique = repeat(0xd4, 16)

	idA    = ID{Log: LogID([]byte(logA)), Seq: 300, Hash: [16]byte([]byte(hashA))}
	goldID = logA + "\xac\x02" + hashA // 300 in seven bits a byte, low end first

	shared     = NewRecordID(Shared, 7, PersonID{}, [16]byte([]byte(unique)))
	goldShared = "\x02\x00\x07" + unique
)

func repeat(b byte, n int) string { return strings.Repeat(string([]byte{b}), n) }

func TestHeaderBytes(t *testing.T) {
	digest := sha256.Sum256([]byte("body"))
	h := Header{Lamport: 300, Wall: -2, Record: shared, Body: digest}
	want := "\x01" + // version
		"\xac\x02" + // Lamport time
		"\x03" + // wall time, zigzag
		"\x13" + goldShared + // length, record
		string(digest[:])
	golden(t, h.encode(), want)
	got, err := DecodeHeader([]byte(want))
	if err != nil || got != h {
		t.Errorf("read back %+v, %v", got, err)
	}
}

func TestBodyBytes(t *testing.T) {
	key := repeat(0x11, 32)
	register := Register{Field: 5, Keyed: true, Key: "get-off"}
	tests := map[string]struct {
		body Body
		want string // behind format, salt and kind
	}{
		"genesis": {
			Body{Kind: KindGenesis, Genesis: &Genesis{Control: true, Device: []byte(key), Certificate: []byte("cert"), Nonce: [16]byte([]byte(unique))}},
			"\x01" + "\x20" + key + "\x04cert" + unique,
		},
		"changes": {
			Body{Kind: KindChanges, Source: "combine", Changes: []Change{
				{Register: Register{Field: 300}, Op: OpValue, Value: []byte("73")},
				{Register: register, Op: OpClear, Replaces: []ID{idA}},
				{Register: Register{Field: 2}, Op: OpReference, Value: []byte(shared)},
			}},
			"\x07combine" + "\x03" + // source, count
				"\xac\x02" + "\x01" + "\x0273" + "\x00" +
				"\x05" + "\x04" + "\x07get-off" + "\x01" + goldID +
				"\x02" + "\x02" + "\x13" + goldShared + "\x00",
		},
		"retirement": {
			Body{Kind: KindRetirement, Retirement: &Retirement{Heads: []ID{idA, idA}, SetAside: []ID{idA}}},
			"\x02" + goldID + goldID + "\x01" + goldID,
		},
		"keep":  {Body{Kind: KindKeep}, ""},
		"grant": {Body{Kind: KindGrant, Grant: &Grant{Certificate: []byte("cert"), Readmits: []ID{idA}}}, "\x04cert" + "\x01" + goldID},
		"cut": {
			Body{Kind: KindCut, Cut: &Cut{Device: DeviceID([]byte(unique)), Beyond: BeyondScout, Heads: []ID{idA}}},
			unique + "\x01" + "\x01" + goldID + "\x00",
		},
		"erasure": {
			Body{Kind: KindErasure, Erasure: &Erasure{
				Entries: []ErasedEntry{{ID: idA, Record: shared, Edges: []Edge{{Register: register, Replaces: []ID{idA}}}}},
				Records: []RecordID{shared},
			}},
			"\x01" + goldID + "\x13" + goldShared + "\x01" + "\x05\x04\x07get-off" + "\x01" + goldID + "\x01" + "\x13" + goldShared,
		},
		"link key": {Body{Kind: KindLinkKey, LinkKey: &LinkKey{Hash: [32]byte([]byte(key)), Seen: []ID{idA}}}, key + "\x01" + goldID},
		"unknown":  {Body{Kind: 200, Unknown: []byte("from later")}, "from later"},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			test.body.Salt = [16]byte([]byte(salt))
			want := "\x01" + salt + string([]byte{byte(test.body.Kind)}) + test.want
			golden(t, test.body.encode(), want)
			got, err := DecodeBody([]byte(want))
			if err != nil {
				t.Fatal(err)
			}
			golden(t, got.encode(), want)
			for n := range len(want) {
				if _, err := DecodeBody([]byte(want[:n])); err == nil && test.body.Known() {
					t.Errorf("the first %d bytes of %d pass for a body", n, len(want))
				}
			}
		})
	}
}

func TestCertificateBytes(t *testing.T) {
	key := repeat(0x11, 32)
	c := Certificate{
		Opaque: [16]byte([]byte(unique)), Person: PersonID([]byte(person)), Role: RoleDirector,
		Device: ed25519.PublicKey(key), Generation: 300, Path: []CertificateID{CertificateID([]byte(hashA))},
	}
	want := "\x01" + unique + person + "\x02" + key + "\xac\x02" + "\x01" + hashA
	golden(t, c.Encode(), want)
	got, err := DecodeCertificate([]byte(want))
	if err != nil {
		t.Fatal(err)
	}
	golden(t, got.Encode(), want)
	if got.Rank() != (Rank{Generation: 300, Depth: 2}) {
		t.Errorf("rank %+v", got.Rank())
	}
}

func TestRecordIDBytes(t *testing.T) {
	owned := NewRecordID(Owned, 0x0102, PersonID([]byte(person)), [16]byte([]byte(unique)))
	golden(t, []byte(owned), "\x01\x01\x02"+person+unique)
	golden(t, []byte(shared), goldShared)
	golden(t, []byte(NewRecordID(Directors, 9, PersonID([]byte(person)), [16]byte([]byte(unique)))), "\x03\x00\x09"+unique)
}

// The chain and the identifiers are computed here a second time, by their
// definitions.
func TestHashesByDefinition(t *testing.T) {
	staff := StaffID([]byte(person))
	origin := sha256.Sum256([]byte("plumbline log v1\x00" + person))
	if Origin(staff) != origin {
		t.Error("the origin isn't SHA-256 of its name and the staff")
	}
	header := "any header"
	next := sha256.Sum256([]byte(string(origin[:]) + "\x00\x00\x00\x0a" + header))
	if Origin(staff).Next([]byte(header)) != next {
		t.Error("the next hash isn't SHA-256 of the last, the length and the header")
	}
	if LogOf(next) != LogID(next[:16]) || Hash(next).Short() != [16]byte(next[:16]) {
		t.Error("ids aren't the first half of the hash")
	}
	for what, got := range map[string][16]byte{
		"plumbline staff v1":       StaffOf(ed25519.PublicKey("key")),
		"plumbline device v1":      DeviceOf(ed25519.PublicKey("key")),
		"plumbline certificate v1": CertificateOf([]byte("key")),
	} {
		if want := sha256.Sum256([]byte(what + "\x00key")); got != [16]byte(want[:16]) {
			t.Errorf("%s: another hash", what)
		}
	}
}

func TestPointMessage(t *testing.T) {
	hash := repeat(0x22, 32)
	got := pointMessage(StaffID([]byte(person)), LogID([]byte(logA)), Point{Seq: 0x0102, Hash: Hash([]byte(hash))})
	golden(t, got, "plumbline signed point v1\x00"+person+logA+"\x00\x00\x00\x00\x00\x00\x01\x02"+hash)
}

func golden(t *testing.T, got []byte, want string) {
	t.Helper()
	if !bytes.Equal(got, []byte(want)) {
		t.Errorf("bytes\n%s, want\n%s", hex.EncodeToString(got), hex.EncodeToString([]byte(want)))
	}
}
