package rootkey

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func typedAll(t require.TestingT, groups []string) *Typed {
	var typed Typed
	require.Empty(t, typed.Add([]byte(strings.Join(groups, " "))))
	return &typed
}

// However one group differs from the paper in one or two letters, it is the one that
// is named; the letters that were typed stay.
func TestTheGroupThatDoesntFitIsNamed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		groups := strings.Fields(Text(rapid.SliceOfN(rapid.Byte(), 32, 32).Draw(t, "seed")))
		number := rapid.IntRange(1, Count).Draw(t, "number")
		group := []byte(groups[number-1])
		if rapid.Bool().Draw(t, "exchanged") {
			i := rapid.IntRange(0, len(group)-2).Draw(t, "at")
			group[i], group[i+1] = group[i+1], group[i]
		} else {
			for range 2 {
				i := rapid.IntRange(0, len(group)-1).Draw(t, "at")
				group[i] = rapid.SampledFrom([]byte(alphabet)).Draw(t, "letter")
			}
		}
		groups[number-1] = string(group)
		slip := []byte(strings.Join(groups, " "))
		if _, err := Parse(slip); err == nil {
			return // the same letters, or two spare bits of the last one
		}
		typed := typedAll(t, groups)
		require.Equal(t, number, typed.Doubtful())
		require.Equal(t, slip, typed.Root())
		_, err := Parse(slip)
		require.ErrorIs(t, err, ErrText)
		require.ErrorContains(t, err, "doesn't fit the others")
	})
}

func TestOfTwoWrongGroupsNoneIsNamed(t *testing.T) {
	groups := strings.Fields(Text(make([]byte, 32)))
	groups[2], groups[9] = "AAAB", "AAAC"
	require.Zero(t, typedAll(t, groups).Doubtful())
	_, err := Parse([]byte(strings.Join(groups, " ")))
	require.ErrorContains(t, err, "More than one of its groups")
}

func TestGroupsAreTypedOneOrSeveralToALine(t *testing.T) {
	root := Text([]byte("an invented seed of 32 bytes....")[:32])
	groups := strings.Fields(root)
	for name, lines := range map[string][]string{
		"one to a line":       groups,
		"all in one":          {root},
		"without spaces":      {strings.Join(groups, "")},
		"two run together":    {groups[0] + groups[1], strings.Join(groups[2:], "-")},
		"with their numbers":  {"1. " + groups[0] + " 2: " + groups[1], "3) " + groups[2], "  4  " + groups[3] + " " + strings.Join(groups[4:], " ")},
		"in small letters":    {strings.ToLower(root)},
		"the last ones first": {"10 " + strings.Join(groups[9:], " "), strings.Join(groups[:9], " ")},
		"one again":           {"WWWW " + groups[1], "1", groups[0], strings.Join(groups[2:], " ")},
		"an empty line":       {"", strings.Join(groups[:3], " "), " ", strings.Join(groups[3:], " ")},
	} {
		var typed Typed
		for _, line := range lines {
			require.NotZero(t, typed.Next(), name)
			require.Empty(t, typed.Add([]byte(line)), name)
		}
		require.Zero(t, typed.Next(), name)
		require.Equal(t, root, string(typed.Root()), name)
		typed.Clear()
		require.Equal(t, 1, typed.Next())
	}
}

// What is wrong with one group of a line leaves the others typed.
func TestOnlyTheWrongGroupIsTypedAgain(t *testing.T) {
	groups := strings.Fields(Text(make([]byte, 32)))
	var typed Typed
	line := strings.Join(groups[:3], " ") + " AB1D AB " + strings.Join(groups[5:], " ")
	wrong := typed.Add([]byte(line))
	require.Len(t, wrong, 2)
	require.Contains(t, wrong[0], "group 4 holds '1'")
	require.Contains(t, wrong[1], "group 5 has 2 letters, not 4")
	require.Equal(t, 4, typed.Next())
	require.Empty(t, typed.Add([]byte(groups[3])))
	require.Equal(t, 5, typed.Next())
	require.Empty(t, typed.Add([]byte(groups[4])))
	require.Zero(t, typed.Next())

	require.Contains(t, typed.Add([]byte("ABCD"))[0], "say which")
	require.Contains(t, typed.Add([]byte("7 ABC"))[0], "group 7 has 3 letters")
	require.Equal(t, 7, typed.Next(), "it is still asked for")
	require.Empty(t, typed.Add([]byte("ABCD")))
	require.Equal(t, "ABCD", typed.Group(7))
	require.Contains(t, typed.Add([]byte("15 AA ABCD"))[0], "15 groups, and more")
	require.Equal(t, "AA", typed.Group(15), "that one was typed")
	_, err := Parse([]byte(strings.Join(groups[:9], " ")))
	require.ErrorContains(t, err, "those from number 10 on are missing")
	_, err = Parse([]byte(line))
	require.ErrorContains(t, err, "Group 4 holds '1'")
}

// Who types one group again and goes on along the line replaces that one alone.
func TestALineReplacesOnlyTheGroupThatWasAskedFor(t *testing.T) {
	groups := strings.Fields(Text([]byte("an invented seed of 32 bytes....")[:32]))
	for name, c := range map[string]struct {
		line   string
		unused int
	}{
		"asked for":        {groups[6] + " AAAA BBBB", 2},
		"by its number":    {"7 " + groups[6] + " AAAA", 1},
		"alone":            {groups[6], 0},
		"two by numbers":   {"7 " + groups[6] + " 8 " + groups[7], 0},
		"up to the end":    {groups[6] + strings.Repeat(" AAAA", Count-7), Count - 7},
		"the root at once": {strings.Join(groups, " "), 0},
	} {
		slip := slices.Clone(groups)
		slip[6] = "ZZZZ"
		typed := typedAll(t, slip)
		typed.Again(7)
		require.Empty(t, typed.Add([]byte(c.line)), name)
		require.Equal(t, c.unused, typed.Unused(), name)
		require.Equal(t, strings.Join(groups, " "), string(typed.Root()), name)
	}
}
