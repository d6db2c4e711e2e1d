package rootkey

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestParseReadsText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.SliceOfN(rapid.Byte(), 32, 32).Draw(t, "seed")
		got, err := Parse([]byte(Text(seed)))
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
		_, err := Parse(letters)
		// The last letter of 58 carries two spare bits, which no group of eight
		// fills; a slip there may read as the same root, never as another one.
		if err == nil {
			got, _ := Parse(letters)
			require.Equal(t, seed, got)
		}
	})
}

func TestWhatIsTypedGroupByGroup(t *testing.T) {
	groups := strings.Fields(Text(make([]byte, 32)))
	require.Len(t, groups, Count)
	for i, g := range groups {
		require.Empty(t, WrongGroup(i+1, []byte(strings.ToLower(g))))
	}
	for group, says := range map[string]string{"ABC": "3 letters", "ABCDE": "5 letters", "AB1D": "'1'", "": "0 letters", "AB D": "' '"} {
		require.Contains(t, WrongGroup(3, []byte(group)), says)
	}
	require.Contains(t, WrongGroup(Count, []byte("ABCD")), "not 2")
}

// The alphabet is that of RFC 4648, section 6.
func TestTextUsesTheStandardAlphabet(t *testing.T) {
	require.Equal(t, "AAAA", strings.Fields(Text(make([]byte, 32)))[0])
}

// FuzzParse reads what is typed from a printed root: no seed comes out but that
// of a text whose check fits.
func FuzzParse(f *testing.F) {
	f.Add(Text(make([]byte, 32)))
	f.Add("aaaa bbbb 1111")
	f.Fuzz(func(t *testing.T, typed string) {
		seed, err := Parse([]byte(typed))
		if err != nil {
			return
		}
		if again, err := Parse([]byte(Text(seed))); err != nil || string(again) != string(seed) {
			t.Errorf("%q reads as a seed whose text reads as another, %v", typed, err)
		}
	})
}
