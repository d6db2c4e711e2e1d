package main

import (
	"bytes"
	"strings"
	"testing"
)

// The root is typed back from paper: one group of it, which the asker chooses.
func TestRootIsTypedBack(t *testing.T) {
	const root = "abcd-efgh-jkmn-pqrs" // invented
	typed := "zzzz\nABCD\nefgh\nJkmn\npqrs\n"
	var out bytes.Buffer
	a := &app{in: strings.NewReader(typed), out: &out, err: &out}
	if err := a.confirmRoot(t.Context(), root); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"1  abcd", "4  pqrs", "compare your paper", "is founded"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("the screen lacks %q:\n%s", want, &out)
		}
	}
}

func TestRootIsNotTypedBack(t *testing.T) {
	var out bytes.Buffer
	a := &app{in: strings.NewReader("zzzz\n"), out: &out, err: &out}
	if err := a.confirmRoot(t.Context(), "abcd-efgh"); err == nil || !strings.Contains(err.Error(), "on paper") {
		t.Errorf("without the right group: %v", err)
	}
}
