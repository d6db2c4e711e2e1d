package entry

import (
	"bytes"
	"crypto/ed25519"
	"encoding/hex"
	"testing"
)

// vectors are tests 1 to 3 of RFC 8032, section 7.1.
var vectors = []struct{ secret, public, message, signature string }{
	{
		"9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
		"d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
		"",
		"e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
	},
	{
		"4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
		"3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
		"72",
		"92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
	},
	{
		"c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
		"fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
		"af82",
		"6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a",
	},
}

func unhex(t *testing.T, text string) []byte {
	t.Helper()
	b, err := hex.DecodeString(text)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// The keys of the RFC sign points: with the scheme of the RFC, over the
// message of the point and nothing else, so that a signature made for one
// point, log or staff never holds for another.
func TestPointsAreSignedByTheRFC(t *testing.T) {
	staff, log, at := StaffID{1}, LogID{2}, Point{Seq: 3, Hash: Hash{4}}
	for i, v := range vectors {
		key, public := ed25519.NewKeyFromSeed(unhex(t, v.secret)), ed25519.PublicKey(unhex(t, v.public))
		if !bytes.Equal(key.Public().(ed25519.PublicKey), public) {
			t.Fatalf("vector %d: another public key", i+1)
		}
		if got := ed25519.Sign(key, unhex(t, v.message)); !bytes.Equal(got, unhex(t, v.signature)) {
			t.Fatalf("vector %d: another signature", i+1)
		}
		p := SignPoint(key, staff, log, at)
		if !ed25519.Verify(public, pointMessage(staff, log, at), p.Signature) || !p.Signed(public, staff, log) {
			t.Errorf("vector %d: the point's signature doesn't hold", i+1)
		}
		other := p
		other.Seq++
		hash := p
		hash.Hash[31]++
		foreign := SignedPoint{Point: at, Signature: unhex(t, v.signature)}
		for what, holds := range map[string]bool{
			"another staff":           p.Signed(public, StaffID{9}, log),
			"another log":             p.Signed(public, staff, LogID{9}),
			"another place":           other.Signed(public, staff, log),
			"another hash":            hash.Signed(public, staff, log),
			"another device":          p.Signed(unhex(t, vectors[(i+1)%3].public), staff, log),
			"no device":               p.Signed(nil, staff, log),
			"the RFC's own signature": foreign.Signed(public, staff, log),
			"a signature cut in half": SignedPoint{at, p.Signature[:32]}.Signed(public, staff, log),
			"a point without any":     SignedPoint{Point: at}.Signed(public, staff, log),
			"a key of the wrong size": p.Signed(public[:31], staff, log),
		} {
			if holds {
				t.Errorf("vector %d: holds for %s", i+1, what)
			}
		}
	}
}
