package main

import (
	"bytes"
	"strings"
	"testing"

	"plumbline/node/rootkey"
	v1 "plumbline/proto/plumbline/v1"
)

// One wrong letter costs one group and not all of them.
func TestAWrongGroupOfTheRootIsTypedAgainAlone(t *testing.T) {
	root := rootkey.Text(bytes.Repeat([]byte{7}, 32))
	lines := rootkey.Groups(root)
	right := lines[4]
	lines[4] = "ZZZZ"
	lines = append(lines, "sixteen", "5", "AB1D", right)
	var errs bytes.Buffer
	a := &app{in: strings.NewReader(strings.Join(lines, "\n") + "\n"), out: &bytes.Buffer{}, err: &errs}
	got, err := a.typeRoot(t.Context(), &v1.RecoverResponse{StaffName: "Harrow County"})
	if err != nil || string(got) != root {
		t.Errorf("got %q, %v; want %q\n%s", got, err, root, &errs)
	}
	if !strings.Contains(errs.String(), "letter by letter") || !strings.Contains(errs.String(), "type it again") {
		t.Errorf("nothing says what is wrong: %s", &errs)
	}
}
