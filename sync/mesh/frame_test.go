package mesh

import (
	"bytes"
	"errors"
	"io"
	"testing"
)

func TestFrames(t *testing.T) {
	var wire bytes.Buffer
	for _, data := range []string{"", "one", "two"} {
		if err := writeFrame(&wire, []byte(data)); err != nil {
			t.Fatal(err)
		}
	}
	for _, want := range []string{"", "one", "two"} {
		if got, err := readFrame(&wire, 3); err != nil || string(got) != want {
			t.Errorf("got %q, %v; want %q", got, err, want)
		}
	}
	if _, err := readFrame(bytes.NewReader([]byte{0, 0, 0, 4, 1, 2, 3, 4}), 3); !errors.Is(err, ErrFrame) {
		t.Errorf("too long: %v", err)
	}
	if _, err := readFrame(bytes.NewReader([]byte{0, 0, 0, 4, 1, 2, 3}), 4); !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Errorf("cut short: %v", err)
	}
}
