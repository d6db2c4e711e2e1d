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

// What the node advises is carried out by the shell as it stands there.
func TestAdviceOfTheNodeNamesTheFolders(t *testing.T) {
	a := &app{namedData: "my $1 data", namedState: "s"}
	got := a.here("retired by Mara Quill: plumbline keep x, or plumbline retire x; see that plumbline runs there, or plumbline invite on theirs")
	want := "retired by Mara Quill: plumbline --data 'my $1 data' --state s keep x, or plumbline --data 'my $1 data' --state s retire x; see that plumbline runs there, or plumbline invite on theirs"
	if got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}
