package importer

import (
	"testing"

	"pgregory.net/rapid"
)

// What begins a formula in spreadsheets is common practice, no source.
func TestGuardedTextsComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`'{0,3}[=+\-@\t\ra' ]?.{0,4}`).Draw(t, "text")
		guarded := Guarded(text)
		if isFormula(guarded) || unguarded(guarded) != text {
			t.Fatalf("%q was guarded as %q and came back as %q", text, guarded, unguarded(guarded))
		}
		if text != "" && text[0] != '\'' && unguarded(text) != text {
			t.Fatalf("%q, which nobody guarded, was read as %q", text, unguarded(text))
		}
	})
}
