package entry

import (
	"bytes"
	"crypto/ed25519"
	"errors"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Generators of everything that an entry can say.
var (
	anyID16     = rapid.Custom(func(t *rapid.T) [16]byte { return [16]byte(rapid.SliceOfN(rapid.Byte(), 16, 16).Draw(t, "16 bytes")) })
	anyBytes    = rapid.SliceOfN(rapid.Byte(), 0, 40)
	anyRecordID = rapid.Custom(func(t *rapid.T) RecordID {
		class := Class(rapid.IntRange(1, int(classAfter)-1).Draw(t, "class"))
		return NewRecordID(class, Kind(rapid.Uint16().Draw(t, "kind")), anyID16.Draw(t, "person"), anyID16.Draw(t, "unique"))
	})
	anyID = rapid.Custom(func(t *rapid.T) ID {
		return ID{Log: anyID16.Draw(t, "log"), Seq: rapid.Uint64().Draw(t, "seq"), Hash: anyID16.Draw(t, "hash")}
	})
	anyIDs = rapid.Custom(func(t *rapid.T) []ID {
		ids := rapid.SliceOfN(anyID, 0, 3).Draw(t, "ids")
		if len(ids) == 0 {
			return nil
		}
		return ids
	})
	anyRegister = rapid.Custom(func(t *rapid.T) Register {
		r := Register{Field: rapid.Uint32().Draw(t, "field"), Keyed: rapid.Bool().Draw(t, "keyed")}
		if r.Keyed {
			r.Key = rapid.String().Draw(t, "key")
		}
		return r
	})
	anyChange = rapid.Custom(func(t *rapid.T) Change {
		c := Change{Register: anyRegister.Draw(t, "register"), Op: Op(rapid.IntRange(0, 3).Draw(t, "op")), Replaces: anyIDs.Draw(t, "replaces")}
		if c.Op != OpClear {
			c.Value = anyBytes.Draw(t, "value")
		}
		return c
	})
	anyErasure = rapid.Custom(func(t *rapid.T) *Erasure {
		var e Erasure
		for range rapid.IntRange(0, 3).Draw(t, "entries") {
			x := ErasedEntry{ID: anyID.Draw(t, "id"), Record: anyRecordID.Draw(t, "record")}
			for range rapid.IntRange(0, 3).Draw(t, "edges") {
				x.Edges = append(x.Edges, Edge{Register: anyRegister.Draw(t, "register"), Replaces: anyIDs.Draw(t, "replaces")})
			}
			e.Entries = append(e.Entries, x)
		}
		for range rapid.IntRange(0, 3).Draw(t, "records") {
			e.Records = append(e.Records, anyRecordID.Draw(t, "record"))
		}
		return &e
	})
	anyBody = rapid.Custom(drawBody)
)

func drawBody(t *rapid.T) Body {
	b := Body{Salt: anyID16.Draw(t, "salt"), Kind: BodyKind(rapid.IntRange(1, int(kindAfter)+1).Draw(t, "kind"))}
	switch b.Kind {
	case KindGenesis:
		b.Genesis = &Genesis{
			Control: rapid.Bool().Draw(t, "control"), Device: anyBytes.Draw(t, "device"),
			Certificate: anyBytes.Draw(t, "certificate"), Nonce: anyID16.Draw(t, "nonce"),
		}
	case KindChanges:
		b.Source = rapid.String().Draw(t, "source")
		b.Changes = rapid.SliceOfN(anyChange, 0, 4).Draw(t, "changes")
	case KindRetirement:
		b.Retirement = &Retirement{Heads: anyIDs.Draw(t, "heads"), SetAside: anyIDs.Draw(t, "set aside")}
	case KindKeep:
	case KindGrant:
		b.Grant = &Grant{Certificate: anyBytes.Draw(t, "certificate"), Readmits: anyIDs.Draw(t, "readmits")}
	case KindCut:
		b.Cut = &Cut{
			Device: anyID16.Draw(t, "device"), Beyond: Beyond(rapid.Byte().Draw(t, "beyond")),
			Heads: anyIDs.Draw(t, "heads"), Replaces: anyIDs.Draw(t, "replaces"),
		}
	case KindErasure:
		b.Erasure = anyErasure.Draw(t, "erasure")
	case KindLinkKey:
		b.LinkKey = &LinkKey{Hash: [32]byte(rapid.SliceOfN(rapid.Byte(), 32, 32).Draw(t, "hash")), Seen: anyIDs.Draw(t, "seen")}
	default:
		b.Unknown = anyBytes.Draw(t, "unknown")
	}
	return b
}

func TestBodiesRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := anyBody.Draw(t, "body")
		got, err := DecodeBody(want.encode())
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("read back\n%+v, want\n%+v", got, want)
		}
		if got.Known() != (want.Kind < kindAfter) {
			t.Errorf("kind %d known: %v", got.Kind, got.Known())
		}
	})
}

func TestHeadersRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := Header{
			Lamport: rapid.Uint64().Draw(t, "lamport"), Wall: rapid.Int64().Draw(t, "wall"),
			Body: [32]byte(rapid.SliceOfN(rapid.Byte(), 32, 32).Draw(t, "digest")),
		}
		if rapid.Bool().Draw(t, "has record") {
			want.Record = anyRecordID.Draw(t, "record")
		}
		if got, err := DecodeHeader(want.encode()); err != nil || got != want {
			t.Fatalf("read back %+v, %v, want %+v", got, err, want)
		}
	})
}

func TestCertificatesRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := Certificate{
			Opaque: anyID16.Draw(t, "opaque"), Person: anyID16.Draw(t, "person"), Role: Role(rapid.Byte().Draw(t, "role")),
			Device:     ed25519.PublicKey(rapid.SliceOfN(rapid.Byte(), 32, 32).Draw(t, "device")),
			Generation: rapid.Uint64().Draw(t, "generation"),
		}
		for range rapid.IntRange(0, 4).Draw(t, "path") {
			want.Path = append(want.Path, anyID16.Draw(t, "certificate"))
		}
		got, err := DecodeCertificate(want.Encode())
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Fatalf("read back %+v, %v, want %+v", got, err, want)
		}
	})
}

func TestTextFormsRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		id, record, raw := anyID.Draw(t, "id"), anyRecordID.Draw(t, "record"), anyID16.Draw(t, "raw")
		if got, err := ParseID(id.String()); err != nil || got != id {
			t.Errorf("%s reads as %v, %v", id, got, err)
		}
		if got, err := ParseRecordID(strings.ToUpper(record.String())); err != nil || got != record {
			t.Errorf("%s reads as %v, %v", record, got, err)
		}
		person, err1 := ParsePersonID(PersonID(raw).String())
		device, err2 := ParseDeviceID(DeviceID(raw).String())
		staff, err3 := ParseStaffID(StaffID(raw).String())
		if err := errors.Join(err1, err2, err3); err != nil || person != raw || device != raw || staff != raw {
			t.Errorf("%x reads as %v, %v, %v: %v", raw, person, device, staff, err)
		}
	})
}

func TestTextThatIsNoIdentifier(t *testing.T) {
	good := ID{Seq: 7}.String()
	for _, text := range []string{"", "x", good + ".", good[1:], strings.Replace(good, ".7.", ".-7.", 1), strings.Replace(good, ".7.", "..", 1), good + "aa"} {
		if id, err := ParseID(text); !errors.Is(err, ErrText) {
			t.Errorf("%q reads as %v, %v", text, id, err)
		}
	}
	for _, text := range []string{"", "1", shared.String()[1:], shared.String() + "aa", RecordID("\x09" + goldShared[1:]).String()} {
		if id, err := ParseRecordID(text); !errors.Is(err, ErrText) {
			t.Errorf("%q reads as %v, %v", text, id, err)
		}
	}
	if _, err := ParsePersonID("short"); !errors.Is(err, ErrText) {
		t.Errorf("a short person id: %v", err)
	}
}

func TestIDsAreOrdered(t *testing.T) {
	low, high := ID{Seq: 9}, ID{Seq: 10}
	tests := map[string][2]ID{
		"by number": {low, high},
		"log first": {high, ID{Log: LogID{1}}},
		"hash last": {low, ID{Seq: 9, Hash: [16]byte{0, 1}}},
	}
	for name, pair := range tests {
		if a, b := pair[0], pair[1]; a.Compare(b) != -1 || b.Compare(a) != 1 || a.Compare(a) != 0 {
			t.Errorf("%s: %d and %d", name, a.Compare(b), b.Compare(a))
		}
	}
}

// What another laptop wrote can name anything as a record; asking what it is
// must not end the program.
func TestInvalidRecordIDs(t *testing.T) {
	for _, id := range []RecordID{"", "\x01", "\x01\x00\x07", shared[:18], shared + "x", "\x00" + shared[1:], "\x04" + shared[1:], "\x01" + shared[1:]} {
		if id.Valid() || id.Class() != 0 || id.Kind() != 0 || id.Person() != (PersonID{}) {
			t.Errorf("%q: valid %v, class %d, kind %d, person %s", string(id), id.Valid(), id.Class(), id.Kind(), id.Person())
		}
	}
}

func TestKeyedUnique(t *testing.T) {
	key := [32]byte{1}
	base := KeyedUnique(key, "combine", "12")
	if base != KeyedUnique(key, "combine", "12") {
		t.Error("one list and key made two records")
	}
	for what, other := range map[string][16]byte{
		"another key":                  KeyedUnique([32]byte{2}, "combine", "12"),
		"another source":               KeyedUnique(key, "campus", "12"),
		"another natural key":          KeyedUnique(key, "combine", "13"),
		"the same bytes cut elsewhere": KeyedUnique(key, "combine1", "2"),
	} {
		if other == base {
			t.Errorf("%s made the same record", what)
		}
	}
}

func TestSameAsIDHasNoOrder(t *testing.T) {
	other := NewRecordID(Shared, 7, PersonID{}, [16]byte{1})
	if SameAsID(shared, other) != SameAsID(other, shared) {
		t.Error("the order of the two records matters")
	}
	if id := SameAsID(shared, other); !id.Valid() || id.Kind() != KindSameAs || id == SameAsID(shared, shared) {
		t.Errorf("%s is no same-as record of its own", id)
	}
}

func TestRanks(t *testing.T) {
	root, child, later := Rank{0, 1}, Rank{0, 2}, Rank{1, 5}
	for _, pair := range [][2]Rank{{root, child}, {later, root}, {later, child}} {
		if !pair[0].Above(pair[1]) || pair[1].Above(pair[0]) || pair[0].Above(pair[0]) {
			t.Errorf("%v above %v: %v, the other way %v", pair[0], pair[1], pair[0].Above(pair[1]), pair[1].Above(pair[0]))
		}
	}
}

func TestFieldNumbersAreNotCutShort(t *testing.T) {
	body := append([]byte("\x01"+salt), byte(KindChanges))
	body = append(body, "\x00\x01"+"\x85\x80\x80\x80\x10"+"\x00"+"\x00"...) // field 5 + 2^32
	if b, err := DecodeBody(body); !errors.Is(err, ErrMalformed) {
		t.Errorf("reads as field %d, %v", b.Changes[0].Field, err)
	}
}

func FuzzDecodeHeader(f *testing.F) {
	f.Add(Header{Lamport: 1, Wall: 2, Record: shared}.encode())
	f.Add(Header{}.encode())
	f.Fuzz(func(t *testing.T, data []byte) {
		if h, err := DecodeHeader(data); err == nil {
			if again, err := DecodeHeader(h.encode()); err != nil || again != h {
				t.Errorf("%+v, written and read again %+v, %v", h, again, err)
			}
		} else if !errors.Is(err, ErrMalformed) {
			t.Errorf("%v isn't ErrMalformed", err)
		}
	})
}

func FuzzDecodeBody(f *testing.F) {
	for kind := range kindAfter + 1 {
		body := Body{
			Kind: kind, Genesis: &Genesis{}, Changes: []Change{{Op: OpValue, Value: []byte("v"), Replaces: []ID{idA}}},
			Retirement: &Retirement{Heads: []ID{idA}}, Grant: &Grant{}, Cut: &Cut{Heads: []ID{idA}},
			Erasure: &Erasure{Entries: []ErasedEntry{{Edges: []Edge{{}}}}, Records: []RecordID{shared}}, LinkKey: &LinkKey{},
		}
		f.Add(body.encode())
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		b, err := DecodeBody(data)
		if err != nil {
			if !errors.Is(err, ErrMalformed) {
				t.Errorf("%v isn't ErrMalformed", err)
			}
			return
		}
		again, err := DecodeBody(b.encode())
		if err != nil || !bytes.Equal(again.encode(), b.encode()) {
			t.Errorf("%+v, written and read again %+v, %v", b, again, err)
		}
	})
}

func FuzzDecodeCertificate(f *testing.F) {
	f.Add(Certificate{Device: make([]byte, 32), Path: []CertificateID{{1}}}.Encode())
	f.Fuzz(func(t *testing.T, data []byte) {
		if c, err := DecodeCertificate(data); err == nil {
			if again, err := DecodeCertificate(c.Encode()); err != nil || !reflect.DeepEqual(again, c) {
				t.Errorf("%+v, written and read again %+v, %v", c, again, err)
			}
		}
	})
}

// The identifiers between the two are those whose text begins so, and no others.
func TestRecordsFromTheBeginningOfAText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		record, other := anyRecordID.Draw(t, "record"), anyRecordID.Draw(t, "other")
		text := record.String()
		begin := text[:rapid.IntRange(5, len(text)).Draw(t, "length")]
		first, last, ok := RecordsFrom(begin)
		if !ok || record < first || record > last {
			t.Fatalf("%s isn't among those from %q: %s to %s", record, begin, first, last)
		}
		if len(other) == len(record) && strings.HasPrefix(other.String(), begin) != (first <= other && other <= last) {
			t.Fatalf("%s is on the wrong side of those from %q", other, begin)
		}
	})
	for _, text := range []string{"", "aiaa", "name!", "zzzzzz", "orrin vale", strings.Repeat("a", 57)} {
		if first, last, ok := RecordsFrom(text); ok {
			t.Errorf("%q begins no identifier, and gives %s to %s", text, first, last)
		}
	}
}
