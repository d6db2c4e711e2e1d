package near

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func TestNames(t *testing.T) {
	known := []string{"tackle", "tight_end", "guard", "safety", "quarterback", "position"}
	for _, c := range []struct {
		typed string
		want  []string
	}{
		{"tackel", []string{"tackle"}},
		{"Gaurd", []string{"guard"}},
		{"pos", []string{"position"}},
		{"kayak", nil},
	} {
		if got := Names(c.typed, known); !slices.Equal(got, c.want) {
			t.Errorf("%q: got %q, want %q", c.typed, got, c.want)
		}
	}
}

func TestHint(t *testing.T) {
	if got, want := Hint("wan", []string{"won", "lost"}), "; did you mean won?"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if got, want := Hint("purple", []string{"won", "lost"}), "; known: won, lost"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if got, want := Or([]string{"a", "b", "c"}), "a, b or c"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// The distance is symmetric, zero only between equals, and as the textbook
// examples of Levenshtein and of optimal string alignment have it (kitten to
// sitting; ca to abc, where a swap may not be edited again).
func TestDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"kitten", "sitting", 3}, {"ca", "abc", 3}, {"ab", "ba", 1}, {"", "abc", 3}} {
		if got := distance([]rune(c.a), []rune(c.b)); got != c.want {
			t.Errorf("%q to %q: %d, want %d", c.a, c.b, got, c.want)
		}
	}
	word := rapid.StringOfN(rapid.RuneFrom([]rune("abcé")), 0, 8, -1)
	rapid.Check(t, func(t *rapid.T) {
		a, b := []rune(word.Draw(t, "a")), []rune(word.Draw(t, "b"))
		there, back := distance(a, b), distance(b, a)
		if there != back || (there == 0) != slices.Equal(a, b) {
			t.Fatalf("%q to %q: %d there, %d back", string(a), string(b), there, back)
		}
	})
}
