package main

import (
	"bytes"
	"slices"
	"strings"
	"testing"

	"plumbline/node/rootkey"
	v1 "plumbline/proto/plumbline/v1"
)

// One wrong letter costs one group and not all of them.
func TestAWrongGroupOfTheRootIsTypedAgainAlone(t *testing.T) {
	root := rootkey.Text(bytes.Repeat([]byte{7}, 32))
	lines := strings.Fields(root)
	right := lines[4]
	lines[4] = "ZZZZ"
	lines = append(lines, "sixteen", "5", "AB1D", right)
	var errs bytes.Buffer
	a := &app{in: strings.NewReader(strings.Join(lines, "\n") + "\n"), out: &bytes.Buffer{}, err: &errs}
	got, err := a.typeRoot(t.Context(), &v1.RecoverResponse{StaffName: "Harrow County"})
	if err != nil || string(got) != root {
		t.Errorf("got %q, %v; want %q\n%s", got, err, root, &errs)
	}
	for _, says := range []string{"letter by letter", "say which", "group 5 holds '1'", "an I"} {
		if !strings.Contains(errs.String(), says) {
			t.Errorf("nothing says %q: %s", says, &errs)
		}
	}
}

// Several groups go to a line. The one with a slip in it is named, and alone asked for.
func TestTheGroupWithASlipIsAskedFor(t *testing.T) {
	root := rootkey.Text(bytes.Repeat([]byte{7}, 32))
	groups := strings.Fields(root)
	slip := slices.Clone(groups)
	slip[6] = "A4" + "QD"
	if slip[6] == groups[6] {
		t.Fatal("that is no slip")
	}
	lines := []string{strings.ToLower(strings.Join(slip[:5], " ")), strings.Join(slip[5:9], " "), strings.Join(slip[9:], "-"), groups[6]}
	var errs bytes.Buffer
	a := &app{in: strings.NewReader(strings.Join(lines, "\n") + "\n"), out: &bytes.Buffer{}, err: &errs}
	got, err := a.typeRoot(t.Context(), &v1.RecoverResponse{StaffName: "Harrow County"})
	if err != nil || string(got) != root {
		t.Errorf("got %q, %v; want %q\n%s", got, err, root, &errs)
	}
	if says := "   7  A4QD   doesn't fit the others\n"; !strings.Contains(errs.String(), says) || strings.Count(errs.String(), "doesn't fit") != 1 {
		t.Errorf("it doesn't say %q once: %s", says, &errs)
	}
}

// Who types that group and those behind it once more is told what of it is used.
func TestOnlyTheGroupThatIsAskedForIsReplaced(t *testing.T) {
	root := rootkey.Text(bytes.Repeat([]byte{7}, 32))
	groups := strings.Fields(root)
	slip := slices.Clone(groups)
	slip[6] = "A4" + "QD"
	lines := []string{strings.Join(slip, " "), groups[6] + " AAAA BBBB"}
	var errs bytes.Buffer
	a := &app{in: strings.NewReader(strings.Join(lines, "\n") + "\n"), out: &bytes.Buffer{}, err: &errs}
	got, err := a.typeRoot(t.Context(), &v1.RecoverResponse{StaffName: "Harrow County"})
	if err != nil || string(got) != root {
		t.Errorf("got %q, %v; want %q\n%s", got, err, root, &errs)
	}
	if !strings.Contains(errs.String(), "Not used: 2 groups") {
		t.Errorf("it doesn't say what isn't used: %s", &errs)
	}
}
