package record

import (
	"encoding/hex"
	"errors"
	"testing"

	"google.golang.org/protobuf/reflect/protoreflect"
	"pgregory.net/rapid"

	"plumbline/sync/entry"
)

// The canonical bytes, worked out by hand from the rule above encode. Invented
// values.
func TestCanonicalVectors(t *testing.T) {
	for _, c := range []struct {
		kind              entry.Kind
		path, typed, want string
	}{
		{Prospect, "name", "Abel Ørn", "4162656c20c398726e"},
		{Prospect, "name", "Ren\u00e9", "52656ec3a9"},
		{Prospect, "name", "  Rene\u0301 ", "52656ec3a9"},
		{Prospect, "position", "OT", "05"},
		{Prospect, "class_year", "2027", "d61f"},
		{Prospect, "note", "a\r\nb", "610a62"},
		{Rep, "clock", "12:31", "de0b"},
		{Rep, "yard_line", "own 25", "9601"},
		{Rep, "seen", "late_hands, lunging", "0a6c6174655f68616e6473076c756e67696e67"},
		{Rep, "clip", "A 0:00.5-0:01", "010141" + "0202e807" + "0302d00f"},
		{Evaluation, "grades.hand_use", "7", "0e"},
		{Evaluation, "filed", "2026-11-26", "010a323032362d31312d3236"},
		{Claim, "tally", "7 of 12", "01010e020118"},
		{Factor, "positions", "OT, G", "01050106"},
		{SameAs, "verdict", "yes", "01"},
		{SameAs, "verdict", "no", "00"},
		{Measurement, "reading", "height 6046 verified 2026-03-01",
			"0102cc09" + "020101" + "030436303436" + "050103" + "070a323032362d30332d3031"},
		{Measurement, "reading", "forty 4.98 hand estimated",
			"0102e84d" + "020103" + "0304342e3938" + "050102" + "060101"},
	} {
		v, err := Must(c.kind, c.path).Parse(c.typed)
		if err != nil {
			t.Error(err)
			continue
		}
		if got := hex.EncodeToString(v.Bytes); got != c.want {
			t.Errorf("%s %q: got %s, want %s", c.path, c.typed, got, c.want)
		}
	}
}

// Zigzag and varint are those of protobuf's documentation, "Encoding": the table
// of signed integers, and 150 as 96 01.
func TestCanonicalIntegersAreProtobufs(t *testing.T) {
	desc := Must(Prospect, "class_year").Field.desc
	for n, want := range map[int32]string{
		0: "00", -1: "01", 1: "02", -2: "03", 75: "9601", 0x7fffffff: "feffffff0f", -0x80000000: "ffffffff0f",
	} {
		b := encode(nil, desc, protoreflect.ValueOfInt32(n))
		if got := hex.EncodeToString(b); got != want {
			t.Errorf("%d: got %s, want %s", n, got, want)
		}
		back, err := decode(desc, protoreflect.Value{}, b)
		if err != nil || back.Int() != int64(n) {
			t.Errorf("%s: got %v, %v; want %d", want, back, err, n)
		}
	}
}

func TestNotCanonical(t *testing.T) {
	for _, c := range []struct {
		kind      entry.Kind
		path, hex string
	}{
		{Prospect, "class_year", ""},             // nothing
		{Prospect, "class_year", "8000"},         // longer than needed
		{Prospect, "class_year", "d61f00"},       // a byte too many
		{Prospect, "class_year", "feffffffff0f"}, // too large for the field
		{Prospect, "position", "ffffffff0f"},     // too large for an enum
		{Prospect, "name", "ff"},                 // not UTF-8
		{SameAs, "verdict", "02"},                // neither yes nor no
		{SameAs, "verdict", "0101"},              // a byte too many
		{Claim, "tally", "02011801010e"},         // fields out of order
		{Claim, "tally", "01010e01010e"},         // a field twice
		{Claim, "tally", "01010e0205"},           // cut short
		{Claim, "tally", "0001000101"},           // field 0
		{Rep, "seen", "0a6c61"},                  // an item cut short
	} {
		b, err := hex.DecodeString(c.hex)
		if err != nil {
			t.Fatal(err)
		}
		if text, err := Must(c.kind, c.path).Text(Value{entry.OpValue, b}); !errors.Is(err, ErrUnreadable) {
			t.Errorf("%s %s: got %q, %v; want unreadable", c.path, c.hex, text, err)
		}
	}
}

// Fields that only a newer version knows are kept in their place.
func TestUnknownFieldsAreKept(t *testing.T) {
	for _, c := range []struct{ path, hex string }{
		{"tally", "01010e" + "020118" + "0302abcd" + "900101ff"},
		{"tally", "0302abcd"},
	} {
		b, _ := hex.DecodeString(c.hex)
		r := Must(Claim, c.path)
		v, err := r.open(Value{entry.OpValue, b})
		if err != nil {
			t.Fatal(err)
		}
		if got := hex.EncodeToString(r.seal(v).Bytes); got != c.hex {
			t.Errorf("got %s, want %s", got, c.hex)
		}
	}
}

// registers are one of each field, for properties that hold for all.
func registers() []Register {
	keys := map[string]string{"grades": ".hand_use", "anchors": ".7"}
	var all []Register
	for _, k := range Stored().Kinds() {
		for _, f := range k.Fields() {
			all = append(all, Must(k.Number, f.Name+keys[f.Name]))
		}
	}
	return all
}

// Each value has one form only: bytes that can be read are those that writing
// gives. Without it two laptops would see a conflict between equal values.
func TestReadableIsCanonical(t *testing.T) {
	all := registers()
	rapid.Check(t, func(t *rapid.T) {
		r := rapid.SampledFrom(all).Draw(t, "register")
		b := rapid.OneOf(rapid.SliceOfN(rapid.Byte(), 0, 12), frames(3)).Draw(t, "bytes")
		op := entry.OpValue
		if r.Field.IsRef() {
			op = entry.OpReference
		}
		v, err := r.open(Value{op, b})
		if err != nil {
			if !errors.Is(err, ErrUnreadable) {
				t.Fatalf("error of another kind: %v", err)
			}
			return
		}
		if got := r.seal(v).Bytes; string(got) != string(b) {
			t.Fatalf("%s: read from %x, written as %x", r.Path(), b, got)
		}
	})
}

// frames draws what looks like messages, so that many can be read.
func frames(most int) *rapid.Generator[[]byte] {
	return rapid.Custom(func(t *rapid.T) []byte {
		var b []byte
		number := 0
		for range rapid.IntRange(0, most).Draw(t, "fields") {
			number += rapid.IntRange(1, 3).Draw(t, "step")
			b = append(b, byte(number))
			b = appendFramed(b, rapid.SliceOfN(rapid.ByteRange(0, 0x7f), 0, 3).Draw(t, "value"))
		}
		return b
	})
}
