package prose_test

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"plumbline/node/prose"
)

// Invented notes. In what a merge shows, {before|first|second} is an overlap.
func TestMerge(t *testing.T) {
	const note = "Long arms, patient hands. Late with the punch. Ask the line coach."
	for name, c := range map[string]struct{ ancestor, first, second, want string }{
		"one changed it": {note, "Long arms, patient hands. Late with the punch. Ask nobody.", note,
			"Long arms, patient hands. Late with the punch. Ask nobody."},
		"two changed different places": {note,
			"Very long arms, patient hands. Late with the punch. Ask the line coach.",
			"Long arms, patient hands. Late with the punch. Ask the line coach twice.",
			"Very long arms, patient hands. Late with the punch. Ask the line coach twice."},
		"two lines are apart": {"Strong.\nSlow.", "Strong, and long.\nSlow.", "Strong.\nNot slow.", "Strong, and long.\nNot slow."},
		"two changed one word": {note,
			strings.Replace(note, "Late", "Early", 1), strings.Replace(note, "Late", "Wild", 1),
			"Long arms, patient hands. {Late|Early|Wild} with the punch. Ask the line coach."},
		"two changed neighbouring words": {note,
			strings.Replace(note, "patient", "quick", 1), strings.Replace(note, "hands", "feet", 1),
			"Long arms, {patient hands.|quick hands.|patient feet.} Late with the punch. Ask the line coach."},
		"two added at the end": {note, note + " Watch the film.", note + " See him in the cold.",
			note + "{| Watch the film.| See him in the cold.}"},
		"two added the same": {note, note + " Watch the film.", note + " Watch the film.", note + " Watch the film."},
		"one took out what the other changed": {note,
			"Long arms, patient hands. Ask the line coach.", strings.Replace(note, "punch", "first punch", 1),
			"Long arms, patient hands. {Late with the punch. |" + "|Late with the first punch. }Ask the line coach."},
		"nothing before": {"", "Long arms.", "Quick feet.", "{|Long arms.|Quick feet.}"},
	} {
		require.Equal(t, c.want, shown(prose.Merge(c.ancestor, []string{c.first, c.second})), name)
	}
}

func TestWithoutAnAncestorEveryDifferenceIsToBeChosen(t *testing.T) {
	got := prose.Compare([]string{"Long arms. Ask the coach.", "Short arms. Ask the coach.", "Long arms. Ask the coach today."})
	require.Equal(t, "{|Long|Short|Long} arms. Ask the coach{|.|.| today.}", shown(got))
	_, whole := wholeText(got)
	require.False(t, whole)
}

// wholeText is the merged text; false while something in it is to be chosen.
func wholeText(parts []prose.Part) (string, bool) {
	var text strings.Builder
	for _, p := range parts {
		if p.Overlap {
			return "", false
		}
		text.WriteString(p.Text)
	}
	return text.String(), true
}

func shown(parts []prose.Part) string {
	var text strings.Builder
	for _, p := range parts {
		if p.Overlap {
			text.WriteString("{" + strings.Join(slices.Concat([]string{p.Before}, p.Versions), "|") + "}")
		}
		text.WriteString(p.Text)
	}
	return text.String()
}

var words = []string{"late", "hands", "the", "a", "punch", " ", " ", " ", "  ", ". ", ", ", "\n", "\n\n", "(", "’s", "ä", "e\u0301", "71", "🙂"}

func anyText(t *rapid.T, label string) string {
	return strings.Join(rapid.SliceOfN(rapid.SampledFrom(words), 0, 40).Draw(t, label), "")
}

// Whatever the texts: nothing of them is lost, a text that nobody else changed
// comes out as it is, and no text stands before another.
func TestPartsMakeUpTheTexts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ancestor := anyText(t, "ancestor")
		texts := []string{anyText(t, "first"), anyText(t, "second"), anyText(t, "third")}
		parts := prose.Merge(ancestor, texts)
		require.Equal(t, ancestor, put(parts, func(p prose.Part) string { return p.Before }))
		for i, text := range texts {
			require.Equal(t, text, put(parts, func(p prose.Part) string {
				if p.Versions == nil {
					return p.Before
				}
				return p.Versions[i]
			}))
		}
		alone, whole := wholeText(prose.Merge(ancestor, []string{texts[0], ancestor, texts[0]}))
		require.True(t, whole)
		require.Equal(t, texts[0], alone)
		turned := prose.Merge(ancestor, []string{texts[2], texts[1], texts[0]})
		for i := range turned {
			slices.Reverse(turned[i].Versions)
		}
		require.Equal(t, parts, turned)
		require.Equal(t, texts[1], put(prose.Compare(texts), func(p prose.Part) string {
			if p.Versions == nil {
				return p.Text
			}
			return p.Versions[1]
		}))
	})
}

func put(parts []prose.Part, says func(prose.Part) string) string {
	var text strings.Builder
	for _, p := range parts {
		text.WriteString(says(p))
	}
	return text.String()
}

// Long texts are compared by sentences first; what isn't made of sentences is
// taken whole. Either way nothing is lost.
func TestLongTexts(t *testing.T) {
	var sentences []string
	for i := range 800 {
		sentences = append(sentences, fmt.Sprintf("In rep %d he sets late and catches wide.", i))
	}
	note := strings.Join(sentences, " ")
	first := strings.Replace(note, "rep 20 he", "rep 20 he never", 1)
	second := strings.Replace(note, "rep 700 he sets late", "rep 700 he sets early", 1)
	merged, whole := wholeText(prose.Merge(note, []string{first, second}))
	require.True(t, whole)
	require.Equal(t, strings.Replace(first, "rep 700 he sets late", "rep 700 he sets early", 1), merged)

	shapeless := func(sign string) string { return strings.Repeat("a"+sign+"b", 8000) }
	texts := []string{shapeless(";") + "!", shapeless(":")}
	parts := prose.Merge(shapeless(","), texts)
	for i, text := range texts {
		require.Equal(t, text, put(parts, func(p prose.Part) string { return p.Versions[i] }))
	}
}

// What is merged here without a question, git merges too, and alike. Every word
// is another one, so that there is only one way to tell what was changed; git
// merges lines, so each word has a line. Source: git merge-file of the git that
// is installed.
func TestGitMergesAlike(t *testing.T) {
	folder := t.TempDir()
	rapid.Check(t, func(t *rapid.T) {
		var ancestor []string
		for i := range 30 {
			ancestor = append(ancestor, "w"+string(rune('a'+i%26))+string(rune('a'+i/26)))
		}
		first, second := edited(t, ancestor, "x"), edited(t, ancestor, "y")
		got, whole := wholeText(prose.Merge(strings.Join(ancestor, " "), []string{strings.Join(first, " "), strings.Join(second, " ")}))
		if !whole {
			return // git may merge what stands nearer to each other than we allow
		}
		var files []string
		for name, lines := range map[string][]string{"1": first, "2": ancestor, "3": second} {
			file := filepath.Join(folder, name)
			require.NoError(t, os.WriteFile(file, []byte(strings.Join(lines, "\n")+"\n"), 0o600))
			files = append(files, file)
		}
		slices.Sort(files)
		merged, err := exec.Command("git", append([]string{"merge-file", "-p"}, files...)...).Output()
		require.NoError(t, err, "git finds a conflict where we don't")
		require.Equal(t, strings.Fields(string(merged)), strings.Fields(got))
	})
}

// edited changes, takes out or adds a few words.
func edited(t *rapid.T, words []string, mark string) []string {
	edited := slices.Clone(words)
	for range rapid.IntRange(1, 3).Draw(t, "edits") {
		at := rapid.IntRange(0, len(edited)-1).Draw(t, "at")
		fresh := mark + edited[at]
		switch rapid.IntRange(0, 2).Draw(t, "what") {
		case 0:
			edited[at] = fresh
		case 1:
			edited = slices.Delete(edited, at, at+1)
		default:
			edited = slices.Insert(edited, at, fresh)
		}
	}
	return edited
}

func BenchmarkMerge(b *testing.B) {
	long := strings.Repeat("He sets late and catches with his hands wide; the anchor holds on the second try. ", 390)
	var other strings.Builder
	for i := range 5000 {
		fmt.Fprintf(&other, "%d words", i)
	}
	for name, texts := range map[string][]string{
		"everywhere another word": {strings.ReplaceAll(long, "late", "early"), strings.ReplaceAll(long, "try", "step")},
		"nothing in common":       {other.String(), strings.ToUpper(other.String())},
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				prose.Merge(long, texts)
			}
		})
	}
}
