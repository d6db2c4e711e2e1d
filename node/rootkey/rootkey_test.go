package rootkey

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestParseReadsText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.SliceOfN(rapid.Byte(), 32, 32).Draw(t, "seed")
		got, err := Parse(Text(seed))
		require.NoError(t, err)
		require.Equal(t, seed, got)
	})
}

func TestParseRefusesASlip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.SliceOfN(rapid.Byte(), 32, 32).Draw(t, "seed")
		letters := []byte(Text(seed))
		at := rapid.IntRange(0, len(letters)-1).Filter(func(i int) bool { return letters[i] != ' ' }).Draw(t, "at")
		slip := rapid.SampledFrom([]byte("ABCDEFGHIJKLMNOPQRSTUVWXYZ234567")).Filter(func(b byte) bool { return b != letters[at] }).Draw(t, "slip")
		letters[at] = slip
		_, err := Parse(string(letters))
		// The last letter of 58 carries two spare bits, which no group of eight
		// fills; a slip there may read as the same root, never as another one.
		if err == nil {
			got, _ := Parse(string(letters))
			require.Equal(t, seed, got)
		}
	})
}

// The alphabet is that of RFC 4648, section 6.
func TestTextUsesTheStandardAlphabet(t *testing.T) {
	require.Equal(t, "AAAA", Groups(Text(make([]byte, 32)))[0])
}

// FuzzParse reads what is typed from a printed root: no seed comes out but that
// of a text whose check fits.
func FuzzParse(f *testing.F) {
	f.Add(Text(make([]byte, 32)))
	f.Add("aaaa bbbb 1111")
	f.Fuzz(func(t *testing.T, typed string) {
		seed, err := Parse(typed)
		if err != nil {
			return
		}
		if again, err := Parse(Text(seed)); err != nil || string(again) != string(seed) {
			t.Errorf("%q reads as a seed whose text reads as another, %v", typed, err)
		}
	})
}
