package merge_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// The hash of one record, put together by hand: laptops with other rules never
// take their states for equal, and no later version may change it unseen.
func TestRule16TheStateHashNamesRulesRegistersAndIDs(t *testing.T) {
	w := newWorld(1)
	a, b, p := w.Scout(w.Root, 1), w.Scout(w.Root, 1), shared(1)
	x, y := a.Write(p, value(5, "x")), b.Write(p, value(5, "y"))
	hash := all(w).Hash.Bytes()

	pair := []*fact{x, y}
	slices.SortFunc(pair, func(a, b *fact) int { return bytes.Compare(a.ID.Log[:], b.ID.Log[:]) })
	text := append([]byte("plumbline state v1\x00"), 1 /* the rules of 2026-11 */, byte(len(p)))
	text = append(append(text, p...), 5 /* field */, 0 /* no map */, 0 /* key */, 2 /* values */)
	for _, f := range pair {
		text = append(append(append(text, f.ID.Log[:]...), byte(f.ID.Seq)), f.ID.Hash[:]...)
	}
	want := sha256.Sum256(text)
	check(t, "state hash", hex.EncodeToString(hash[:]), hex.EncodeToString(want[:]))
}

func TestRule16TheStateHashIsASum(t *testing.T) {
	w := newWorld(1)
	a := w.Scout(w.Root, 1)
	a.Write(shared(1), value(1, "x"))
	a.Write(shared(2), value(1, "y"))
	lap := all(w)
	one, other := lap.Record(shared(1)).Digest(), lap.Record(shared(2)).Digest()
	check(t, "sum", one.Add(other), lap.Hash)
	check(t, "the other way round", other.Add(one), lap.Hash)
	check(t, "taken out again", lap.Hash.Sub(one), other)
	check(t, "nothing", (&merge.Record{ID: shared(3)}).Digest(), merge.StateHash{})
	check(t, "read back", merge.StateHashOf(lap.Hash.Bytes()), lap.Hash)
	top := merge.StateHash{1<<64 - 1, 1<<64 - 1, 1<<64 - 1, 1<<64 - 1}
	check(t, "carried through all words", top.Add(merge.StateHash{0, 0, 0, 1}), merge.StateHash{})
	check(t, "borrowed through all words", merge.StateHash{}.Sub(merge.StateHash{0, 0, 0, 1}), top)
}

// A laptop that was restored a thousand times is cut, and the cut is raised
// again and again. Each head is looked up once, whatever the number of logs.
func TestRule5OldLogsCostTheirSize(t *testing.T) {
	const logs, cuts = 1000, 60
	w := newWorld(1)
	l := w.Scout(w.Root, 1)
	heads := []*fact{l.At}
	for range logs - 1 {
		heads = append(heads, w.Open(l.Device, l.Cert, false).At)
	}
	var last []*fact
	for range cuts {
		last = []*fact{w.Root.Cut(l.Device, entry.BeyondNothing, heads, last...)}
	}
	lap := all(w)
	ledger, looked := lap.Ledger(), 0
	locate := ledger.Locate
	ledger.Locate = func(id entry.ID) (merge.Place, bool) { looked++; return locate(id) }
	verdict := merge.Judge(ledger)
	check(t, "heads looked up", looked, logs*cuts)
	check(t, "standing cuts", len(verdict.Cuts), 1)
	limits := 0
	for _, f := range heads {
		limits += len(verdict.Standing(f.ID.Log).Limits)
	}
	check(t, "limits", limits, logs)
}
