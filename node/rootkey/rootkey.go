// Package rootkey writes a staff's root for paper and reads it back: base32 in
// groups of four letters, the last of which check the rest. It refuses a text
// with a slip in it instead of making another staff's root of it.
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

// Groups returns the groups of a root's text.
func Groups(root string) []string { return strings.Fields(root) }

// Parse reads a root's text; spaces, dashes and the size of letters don't
// matter. It leaves no copy behind but the seed that it returns, which the caller
// clears, like the text.
func Parse(root []byte) ([]byte, error) {
	letters := make([]byte, 0, len(root))
	for _, c := range root {
		if !strings.ContainsRune(" -\r\n\t", rune(c)) {
			letters = append(letters, upper(c))
		}
	}
	data := make([]byte, text.DecodedLen(len(letters)))
	n, err := text.Decode(data, letters)
	clear(letters)
	seed := data[:min(n, ed25519.SeedSize)]
	if err == nil && n == ed25519.SeedSize+checkBytes {
		if sum := check(seed); string(sum[:checkBytes]) == string(data[ed25519.SeedSize:n]) {
			return seed, nil
		}
	}
	clear(data)
	return nil, ErrText
}

// WrongGroup says what is wrong with the group of that number, from 1, as typed
// alone; nothing if it may be right.
func WrongGroup(number int, group []byte) string {
	want := Group
	if number == Count {
		want = lastGroup
	}
	letters := 0
	for _, c := range group {
		if c = upper(c); (c < 'A' || c > 'Z') && (c < '2' || c > '7') {
			return fmt.Sprintf("group %d holds %q: a root has letters and the digits 2 to 7 only", number, c)
		}
		letters++
	}
	if letters != want {
		return fmt.Sprintf("group %d has %d letters, not %d", number, letters, want)
	}
	return ""
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
