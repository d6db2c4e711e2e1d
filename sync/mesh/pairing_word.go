package mesh

import (
	"encoding/binary"
	"fmt"
	"io"
	"strings"
)

// The word of an invitation is 32 random bits as two proquints (D. Wilkerson,
// "A Proposal for Proquints", arXiv:0901.4016): five letters each, consonants
// and vowels in turn, so that it can be read aloud in most languages, needs no
// list of words in any of them, and no letter sounds or looks like another
// one's neighbour. It only keeps strangers from asking: at fifty guesses a
// second, ten minutes give one chance in 140,000 to be asked about a code,
// which the guesser then hasn't got.
const (
	wordConsonants = "bdfghjklmnprstvz"
	wordVowels     = "aiou"
)

func newWord(random io.Reader) (string, error) {
	var b [4]byte
	if _, err := io.ReadFull(random, b[:]); err != nil {
		return "", fmt.Errorf("read randomness: %w", err)
	}
	return quint(binary.BigEndian.Uint16(b[:2])) + "-" + quint(binary.BigEndian.Uint16(b[2:])), nil
}

func quint(v uint16) string {
	return string([]byte{
		wordConsonants[v>>12],
		wordVowels[v>>10&3],
		wordConsonants[v>>6&15],
		wordVowels[v>>4&3],
		wordConsonants[v&15],
	})
}

// plainWord is a word as it counts, however it was typed.
func plainWord(text string) string {
	return strings.Map(func(r rune) rune {
		if r < 'a' || r > 'z' {
			return -1
		}
		return r
	}, strings.ToLower(text))
}
