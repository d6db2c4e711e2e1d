// Package rootkey writes a staff's root for paper and reads it back: base32 in
// groups of four letters, the last of which check the rest. It refuses a text
// with a slip in it instead of making another staff's root of it.
package rootkey

import (
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/base32"
	"errors"
	"strings"
)

// checkBytes is how much of the hash stands behind the seed: a slip of the pen
// passes once in four thousand million.
const checkBytes = 4

// Group is how many letters stand together.
const Group = 4

// ErrText is returned when a text isn't a root, or has a slip in it.
var ErrText = errors.New("this isn't the root: check it letter by letter against the paper")

// RFC 4648's letters: no 0, 1, 8 or 9 to mistake for O, I, B or g.
var text = base32.StdEncoding.WithPadding(base32.NoPadding)

// Text writes the seed of a root in groups.
func Text(seed []byte) string {
	sum := check(seed)
	letters := text.EncodeToString(append(append([]byte(nil), seed...), sum[:checkBytes]...))
	var groups []string
	for len(letters) > Group {
		groups = append(groups, letters[:Group])
		letters = letters[Group:]
	}
	return strings.Join(append(groups, letters), " ")
}

// Groups returns the groups of a root's text.
func Groups(root string) []string { return strings.Fields(root) }

// Parse reads a root's text; spaces, dashes and the size of letters don't
// matter.
func Parse(root string) ([]byte, error) {
	letters := strings.ToUpper(strings.NewReplacer(" ", "", "-", "", "\n", "", "\t", "").Replace(root))
	data, err := text.DecodeString(letters)
	if err != nil || len(data) != ed25519.SeedSize+checkBytes {
		return nil, ErrText
	}
	seed := data[:ed25519.SeedSize]
	if sum := check(seed); string(sum[:checkBytes]) != string(data[ed25519.SeedSize:]) {
		return nil, ErrText
	}
	return seed, nil
}

func check(seed []byte) [32]byte {
	return sha256.Sum256(append([]byte("plumbline root v1\x00"), seed...))
}
