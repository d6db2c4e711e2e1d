package main

import (
	"strings"
	"testing"
	"unicode/utf8"
)

// The words and their order are those of strings.Fields; the widths are counted
// here.
func TestProseKeepsEveryWord(t *testing.T) {
	text := strings.Repeat("sets late, résumé of hands and feet; ", 20) + "\n\n" + strings.Repeat("x", 120) + " end"
	var b strings.Builder
	writeProse(&b, "    ", text)
	if got, want := strings.Join(strings.Fields(b.String()), " "), strings.Join(strings.Fields(text), " "); got != want {
		t.Errorf("got the words %q, want %q", got, want)
	}
	for line := range strings.Lines(b.String()) {
		line = strings.TrimSuffix(line, "\n")
		if utf8.RuneCountInString(line) > 80 && strings.Contains(strings.TrimSpace(line), " ") {
			t.Errorf("wider than 80: %q", line)
		}
		if line != "" && !strings.HasPrefix(line, "    ") {
			t.Errorf("not indented: %q", line)
		}
	}
	if strings.Count(b.String(), "\n\n") != 1 {
		t.Errorf("the empty line between paragraphs is lost:\n%s", b.String())
	}
}
