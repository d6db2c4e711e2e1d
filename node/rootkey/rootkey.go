// Package rootkey writes a staff's root for paper and reads it back: base32 in
// groups of four letters, the last of which check the rest. [Text] writes, [Parse]
// reads, [Typed] takes what a person types. It refuses a text with a slip in it
// instead of making another staff's root of it, or mending it.
package rootkey

import (
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/base32"
	"errors"
	"fmt"
	"strings"
)

// checkBytes is how much of the hash stands behind the seed: a slip of the pen
// passes once in four thousand million.
const checkBytes = 4

// Group is how many letters stand together.
const Group = 4

// Count is how many groups a root has; the last one is shorter.
const (
	letterCount = (8*(ed25519.SeedSize+checkBytes) + 4) / 5
	Count       = (letterCount + Group - 1) / Group
	lastGroup   = letterCount - (Count-1)*Group
)

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

// Parse reads a root's text; spaces, dashes and the size of letters don't
// matter. It leaves no copy behind but the seed that it returns, which the caller
// clears, like the text. The error wraps [ErrText] and says which group is wrong, as
// far as that shows.
func Parse(root []byte) ([]byte, error) {
	letters := make([]byte, 0, len(root))
	for _, c := range root {
		if !strings.ContainsRune(" -\r\n\t", rune(c)) {
			letters = append(letters, upper(c))
		}
	}
	defer clear(letters)
	data := make([]byte, text.DecodedLen(len(letters)))
	if fits(letters, data) {
		return data[:ed25519.SeedSize], nil
	}
	clear(data)
	return nil, fmt.Errorf("%w. %s", ErrText, whatIsWrong(root))
}

// fits reports whether letters are a root's, and leaves in data what they stand for.
func fits(letters, data []byte) bool {
	n, err := text.Decode(data, letters)
	if err != nil || n != ed25519.SeedSize+checkBytes {
		return false
	}
	sum := check(data[:ed25519.SeedSize])
	return string(sum[:checkBytes]) == string(data[ed25519.SeedSize:n])
}

func upper(c byte) byte {
	if c >= 'a' && c <= 'z' {
		c -= 'a' - 'A'
	}
	return c
}

func check(seed []byte) [32]byte {
	return sha256.Sum256(append([]byte("plumbline root v1\x00"), seed...))
}
