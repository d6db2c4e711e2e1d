package storage

import (
	"context"
	"slices"
	"testing"
	"time"

	"plumbline/sync/entry"
	"plumbline/sync/merge/mergetest"
)

// TestPartsOfPacks reads what was stored of a pack, and nothing that was made
// before one of its records changed.
func TestPartsOfPacks(t *testing.T) {
	ctx := context.Background()
	w := newWorld(11)
	a := w.Scout(w.Root, 2)
	a.Write(prospect(1), value(1, "elm"))
	s := storeOf(t, w)
	s.append(t, all(w)...)
	read := func(want string, parts ...string) Mark {
		t.Helper()
		packs, mark, err := s.Packs(ctx, mergetest.KindProspect, []string{"name", "size"})
		check(t, err)
		if len(packs) != 1 || string(packs[0].Head) != want || len(packs[0].Parts) != 2 {
			t.Fatalf("got %v, want one pack with the head %q", packs, want)
		}
		if got := []string{string(packs[0].Parts[0]), string(packs[0].Parts[1])}; want != "" && !slices.Equal(got, parts) {
			t.Errorf("parts %q, want %q", got, parts)
		}
		return mark
	}
	put := func(mark Mark, head string, parts map[string][]byte) {
		t.Helper()
		firsts, _, err := s.Unpacked(ctx, mergetest.KindProspect)
		check(t, err)
		if len(firsts) != 1 {
			t.Fatalf("%d packs are to be made, want 1", len(firsts))
		}
		var held []entry.RecordID
		check(t, s.Packed(ctx, firsts[0], func(_ Number, is Shown) { held = append(held, is.ID) }))
		if !slices.Equal(held, []entry.RecordID{prospect(1)}) {
			t.Fatalf("got %v", held)
		}
		check(t, s.PutPacks(ctx, mark, map[Number]Pack{firsts[0]: {Head: []byte(head), Parts: parts}}))
	}
	before := read("")
	put(before, "one", map[string][]byte{"name": []byte("elm"), "size": []byte("tall"), "other": []byte("x")})
	read("one", "elm", "tall")

	done := len(w.Facts)
	a.Write(prospect(1), value(1, "oak", a.At))
	s.append(t, since(w, done)...)
	mark := read("")
	put(before, "too early", map[string][]byte{"name": []byte("elm")})
	read("")
	put(mark, "two", map[string][]byte{"name": []byte("oak")})
	read("two", "oak", "")
}

// TestPacksWhileAnotherWrites stores packs after what is being stored, unless they
// were only offered.
func TestPacksWhileAnotherWrites(t *testing.T) {
	ctx := context.Background()
	w := newWorld(12)
	a := w.Scout(w.Root, 2)
	a.Write(prospect(1), value(1, "elm"))
	s := storeOf(t, w)
	s.append(t, all(w)...)
	firsts, mark, err := s.Unpacked(ctx, mergetest.KindProspect)
	check(t, err)
	packs := map[Number]Pack{firsts[0]: {Head: []byte("one")}}

	s.writing.Lock()
	if stored, err := s.OfferPacks(ctx, mark, packs); stored || err != nil {
		t.Error(stored, err)
	}
	done := make(chan error)
	go func() { done <- s.PutPacks(ctx, mark, packs) }()
	<-time.After(50 * time.Millisecond) // whoever would give up instead of waiting has its time to do so
	s.writing.Unlock()
	check(t, <-done)
	firsts, _, err = s.Unpacked(ctx, mergetest.KindProspect)
	check(t, err)
	if len(firsts) > 0 {
		t.Errorf("%d packs are still to be made", len(firsts))
	}
}
