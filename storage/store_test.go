package storage

import (
	"context"
	"path/filepath"
	"testing"
)

func TestSmoke(t *testing.T) {
	s, err := Open(context.Background(), filepath.Join(t.TempDir(), "plumbline.db"), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}
