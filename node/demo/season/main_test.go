package main

import (
	"io"
	"path/filepath"
	"strings"
	"testing"

	"plumbline/node"
	"plumbline/node/demo"
)

// A folder that is filled holds the whole world, and is never filled again.
func TestFill(t *testing.T) {
	folder, size := filepath.Join(t.TempDir(), "season"), demo.Small
	if err := fill(t.Context(), folder, size, io.Discard); err != nil {
		t.Fatal(err)
	}
	n, err := node.Open(t.Context(), node.Config{Data: filepath.Join(folder, "data"), State: filepath.Join(folder, "state")})
	if err != nil {
		t.Fatal(err)
	}
	defer n.Close()
	// One person imports it all, so two scouts' looks at one prospect in one game
	// are one.
	type snap struct{ prospect, game, number int }
	reps := map[snap]bool{}
	for _, look := range demo.New(1, size).Looks {
		for i := range look.Reps {
			reps[snap{int(look.Prospect), int(look.Game), i}] = true
		}
	}
	for kind, want := range map[string]int{"prospect": size.Prospects, "rep": len(reps)} {
		listing, err := n.List(t.Context(), node.ListQuery{Kind: kind, Limit: 1})
		if err != nil || listing.Total != want {
			t.Errorf("%s: got %d, %v, want %d", kind, listing.Total, err, want)
		}
	}
	if err := fill(t.Context(), folder, size, io.Discard); err == nil || !strings.Contains(err.Error(), "name a new folder") {
		t.Errorf("into a folder that is there: %v", err)
	}
}
