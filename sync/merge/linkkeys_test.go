package merge_test

import (
	"slices"
	"testing"

	"plumbline/sync/entry"
)

// usable lists the facts whose keys may open links, the newest first.
func (lap laptop) usable(w *world) (facts []*fact) {
	for _, k := range lap.Verdict.LinkKeys {
		if k.Usable {
			facts = append(facts, w.Find(k.ID))
		}
	}
	return facts
}

// Ledger rule 32: a key is usable if its author isn't cut there and it has seen
// every cut that the laptop knows.
func TestRule32AKeyIsUsableIfItHasSeenEveryCut(t *testing.T) {
	type staff struct {
		*world
		head, other *line // two directors of one rank
		first       *fact // the founding key
		lost        *line
	}
	for name, c := range map[string]struct {
		happens func(s staff) (usable []*fact)
	}{
		"nobody was cut": {func(s staff) []*fact { return []*fact{s.first} }},
		"a cut without a new key": {func(s staff) []*fact {
			s.head.Cut(s.lost.Device, entry.BeyondNothing, nil)
			return nil
		}},
		"a new key after the cut, in one log": {func(s staff) []*fact {
			s.head.Cut(s.lost.Device, entry.BeyondNothing, nil)
			return []*fact{s.head.LinkKey()}
		}},
		"a new key before the cut, in one log": {func(s staff) []*fact {
			s.head.LinkKey()
			s.head.Cut(s.lost.Device, entry.BeyondNothing, nil)
			return nil
		}},
		"another director's key that has seen it": {func(s staff) []*fact {
			cut := s.head.Cut(s.lost.Device, entry.BeyondNothing, nil)
			return []*fact{s.other.LinkKey(cut)}
		}},
		"another director's key that has seen what came after it": {func(s staff) []*fact {
			s.head.Cut(s.lost.Device, entry.BeyondNothing, nil)
			return []*fact{s.other.LinkKey(s.head.Grant(s.lost.Cert))}
		}},
		"another director's key that has seen what came before it": {func(s staff) []*fact {
			before := s.head.Grant(s.lost.Cert)
			s.head.Cut(s.lost.Device, entry.BeyondNothing, nil)
			s.other.LinkKey(before)
			return nil
		}},
		"two directors at once": {func(s staff) []*fact {
			_, third := s.Director(s.head, 2)
			s.head.Cut(s.lost.Device, entry.BeyondNothing, nil)
			s.head.LinkKey()
			s.other.Cut(third.Device, entry.BeyondNothing, nil)
			s.other.LinkKey()
			return nil
		}},
		"two directors at once, and one of them once more": {func(s staff) []*fact {
			_, third := s.Director(s.head, 2)
			s.head.Cut(s.lost.Device, entry.BeyondNothing, nil)
			s.head.LinkKey()
			cut := s.other.Cut(third.Device, entry.BeyondNothing, nil)
			s.other.LinkKey()
			return []*fact{s.head.LinkKey(cut)}
		}},
		"a key whose author is cut later": {func(s staff) []*fact {
			key := s.head.LinkKey()
			s.Root.Cut(s.head.Device, entry.BeyondNothing, []*fact{key})
			return nil
		}},
		"a key beyond its author's cut": {func(s staff) []*fact {
			cut := s.Root.Cut(s.head.Device, entry.BeyondNothing, []*fact{s.head.At})
			s.head.LinkKey(cut)
			return nil
		}},
		"a key of somebody who may write none": {func(s staff) []*fact {
			scout := s.Scout(s.head, 2)
			scout.Put("", entry.Body{Kind: entry.KindLinkKey, LinkKey: &entry.LinkKey{}})
			return []*fact{s.first}
		}},
		"a demotion is no loss": {func(s staff) []*fact {
			s.head.Cut(s.lost.Device, entry.BeyondScout, nil)
			return []*fact{s.first}
		}},
		"two keys, the newer first": {func(s staff) []*fact {
			cut := s.head.Cut(s.lost.Device, entry.BeyondNothing, nil)
			old := s.head.LinkKey()
			return []*fact{s.other.LinkKey(cut, old), old}
		}},
	} {
		w := newWorld(1)
		s := staff{world: w, first: w.Root.LinkKey()}
		s.head, _ = w.Director(w.Root, 1)
		s.other, _ = w.Director(w.Root, 1)
		_, s.lost = w.Director(s.head, 2)
		want := c.happens(s)
		if got := all(w).usable(w); !slices.Equal(got, want) {
			t.Errorf("%s: usable are %v, want %v", name, ids(got), ids(want))
		}
	}
}

// A key waits while its author had seen more than this laptop holds.
func TestRule32AKeyWaitsForWhatItsAuthorHadSeen(t *testing.T) {
	w := newWorld(1)
	head, _ := w.Director(w.Root, 1)
	other, _ := w.Director(w.Root, 1)
	cut := other.Cut(head.Device, entry.BeyondScout, nil)
	head.LinkKey(cut)
	for what, waits := range map[string]bool{"without the other's log": true, "with it": false} {
		facts := w.Facts
		if waits {
			facts = without(facts, cut)
		}
		check(t, what, read(w, facts...).Verdict.LinkKeys[0].Waits, waits)
	}
}

// A laptop that hasn't heard of the cut yet goes on with the older key.
func TestRule32UntilACutIsHeardOfTheOlderKeyServes(t *testing.T) {
	w := newWorld(1)
	first := w.Root.LinkKey()
	head, _ := w.Director(w.Root, 1)
	_, lost := w.Director(head, 2)
	before := slices.Clone(w.Facts)
	head.Cut(lost.Device, entry.BeyondNothing, nil)
	second := head.LinkKey(first)
	if got := read(w, before...).usable(w); !slices.Equal(got, []*fact{first}) {
		t.Errorf("before the cut: %v", ids(got))
	}
	if got := all(w).usable(w); !slices.Equal(got, []*fact{second}) {
		t.Errorf("after it: %v", ids(got))
	}
}
