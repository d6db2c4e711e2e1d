package main

import (
	"os/exec"
	"strings"
	"testing"
)

// The shell itself is the judge: a quoted word comes back as it was.
func TestQuotedForTheShell(t *testing.T) {
	for _, word := range []string{
		"plain", "", "Orrin Vale", "it's", `say "ah"`, "$HOME", "a`b`", "x;y", "*", "~", "#1", "grades.hand_use=6", "6'4\"", "two\nlines",
	} {
		out, err := exec.Command("sh", "-c", "printf %s "+quoted(word)).Output()
		if err != nil || string(out) != word {
			t.Errorf("%q was quoted as %s and came back as %q, %v", word, quoted(word), out, err)
		}
	}
}

func TestProposedCommandsNameTheFolders(t *testing.T) {
	a := &app{namedData: "my data"}
	if got, want := a.command("set", "x"), "plumbline --data 'my data' set x"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	if got := (&app{}).command("set", "x"); strings.Contains(got, "--") {
		t.Errorf("folders that nobody named: %s", got)
	}
}
