package exchangetest

import (
	"bytes"
	"crypto/ed25519"
	"errors"
	"slices"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/exchange"
)

// Conform holds an implementation of exchange.Holdings against its contract.
// open returns empty holdings of the staff; what it needs closed is its own
// affair.
func Conform(t *testing.T, open func(t *testing.T, s *Staff) Store) {
	tests := map[string]func(*testing.T, *held){
		"nothing held":              conformEmpty,
		"tips":                      conformTips,
		"entries held":              conformHolds,
		"samples":                   conformSamples,
		"sources":                   conformSources,
		"ranges verify":             conformRanges,
		"ranges keep to their size": conformRangeSizes,
		"forks":                     conformForks,
		"fork of a fork":            conformForkOfFork,
		"appended twice":            conformTwice,
		"appended in the air":       conformUnattached,
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			staff := NewStaff(1)
			laptop := staff.Laptop(entry.RoleDirector)
			store := open(t, staff)
			test(t, &held{Store: store, staff: staff, laptop: laptop})
		})
	}
}

// held is the holdings under test and who writes for them.
type held struct {
	Store
	staff  *Staff
	laptop *Laptop
}

// log stores the root's control log and opens one of the laptop.
func (h *held) log(t *testing.T) *Log {
	t.Helper()
	h.append(t, h.staff.Control.Run())
	return h.laptop.Open(false)
}

func (h *held) append(t *testing.T, run entry.Run) entry.Run {
	t.Helper()
	tips, err := h.Append(run)
	if err != nil {
		t.Fatalf("append %d entries after %d: %v", len(run.Entries), run.After.Seq, err)
	}
	if len(run.Entries) > 0 && !slices.ContainsFunc(tips, func(tip exchange.Tip) bool { return tip.Log == run.Log && tip.Point == run.Tip() }) {
		t.Fatalf("append told the tips %v, want one at %d", tips, run.Tip().Seq)
	}
	return run
}

func conformEmpty(t *testing.T, h *held) {
	log := h.laptop.Open(false)
	first := log.Run().Tip()
	if tips := h.Tips(); len(tips) != 0 {
		t.Errorf("tips of nothing: %v", tips)
	}
	if h.Holds(log.Log, first) {
		t.Error("holds an entry that was never stored")
	}
	if points := h.Samples(log.Log, first); len(points) != 0 {
		t.Errorf("samples of nothing: %v", points)
	}
	if _, ok := h.Source(log.Log, first); ok {
		t.Error("a source at an entry that isn't held")
	}
	if _, _, err := h.Range(log.Log, entry.Point{}, first, exchange.MaxChunk); !errors.Is(err, exchange.ErrNotHeld) {
		t.Errorf("range of nothing: %v, want ErrNotHeld", err)
	}
	src, ok := h.Source(log.Log, entry.Point{})
	if !ok || src.Staff != h.staff.ID || src.Log != log.Log || src.After.Hash != entry.Origin(h.staff.ID) || len(src.Device) != 0 {
		t.Errorf("source of a new log: %+v, %v", src, ok)
	}
}

func conformTips(t *testing.T, h *held) {
	log := h.log(t)
	h.append(t, log.Write(3, 50).Run())
	last := h.append(t, log.Write(2, 50).Run())
	want := []exchange.Tip{
		{Log: h.staff.Control.Log, Point: h.staff.Control.Tip, Control: true},
		{Log: log.Log, Point: last.Tip()},
	}
	if got := h.Tips(); !slices.Equal(got, want) {
		t.Errorf("tips %v, want %v", got, want)
	}
	if got := h.TipsOf(log.Log); !slices.Equal(got, want[1:]) {
		t.Errorf("tips of one log %v, want %v", got, want[1:])
	}
	if got := h.TipsOf(entry.LogID{1}); len(got) != 0 {
		t.Errorf("tips %v of a log that isn't held", got)
	}
}

func conformHolds(t *testing.T, h *held) {
	log := h.log(t)
	run := h.append(t, log.Write(20, 50).Run())
	for _, e := range run.Entries {
		if !h.Holds(log.Log, e.Point) {
			t.Errorf("entry %d isn't held", e.Seq)
		}
		other := e.Point
		other.Hash[20] ^= 1 // beyond the part that stands in an ID
		if h.Holds(log.Log, other) || h.Holds(h.staff.Control.Log, e.Point) {
			t.Errorf("something else at %d is held", e.Seq)
		}
	}
}

func conformSamples(t *testing.T, h *held) {
	log := h.log(t)
	run := h.append(t, log.Write(40, 50).Run())
	points := h.Samples(log.Log, run.Tip())
	if len(points) < 2 || points[0] != run.Tip() || points[len(points)-1] != run.Entries[0].Point {
		t.Fatalf("samples %v don't go from the tip to the first entry", points)
	}
	for i, p := range points {
		if !h.Holds(log.Log, p) || i > 0 && p.Seq >= points[i-1].Seq {
			t.Errorf("sample %d at %d is no step back on the branch", i, p.Seq)
		}
	}
	if len(points) > 12 {
		t.Errorf("%d samples of 41 entries: the distance doesn't grow", len(points))
	}
}

func conformSources(t *testing.T, h *held) {
	log := h.log(t)
	run := h.append(t, log.Write(9, 50).Run())
	for _, e := range run.Entries {
		src, ok := h.Source(log.Log, e.Point)
		if !ok || src.After != e.Point || src.Lamport != e.Header.Lamport || !bytes.Equal(src.Device, h.laptop.Key.Public().(ed25519.PublicKey)) {
			t.Errorf("source at %d: %+v, %v", e.Seq, src, ok)
		}
	}
	wrong := run.Tip()
	wrong.Hash[31] ^= 1
	if _, ok := h.Source(log.Log, wrong); ok {
		t.Error("a source at an entry that isn't held")
	}
}
