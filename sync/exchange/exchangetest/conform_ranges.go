package exchangetest

import (
	"bytes"
	"errors"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/exchange"
)

// pull reads a branch chunk by chunk and verifies each against what the
// holdings say of the place where it attaches.
func (h *held) pull(t *testing.T, log entry.LogID, after, upto entry.Point, max int) []entry.Entry {
	t.Helper()
	var all []entry.Entry
	for after != upto {
		raws, points, err := h.Range(log, after, upto, max)
		if err != nil {
			t.Fatalf("range after %d: %v", after.Seq, err)
		}
		if len(raws) == 0 {
			t.Fatalf("nothing after %d within %d bytes", after.Seq, max)
		}
		src, ok := h.Source(log, after)
		if !ok {
			t.Fatalf("no source at %d", after.Seq)
		}
		run, err := entry.Verify(src, raws, points)
		if err != nil {
			t.Fatalf("range after %d doesn't verify: %v", after.Seq, err)
		}
		size := 0
		for _, e := range run.Entries {
			size += e.Size()
		}
		if size > max {
			t.Errorf("a range of %d bytes, at most %d", size, max)
		}
		all, after = append(all, run.Entries...), run.Tip()
	}
	return all
}

func same(t *testing.T, got, want []entry.Entry) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%d entries, want %d", len(got), len(want))
	}
	for i := range want {
		if got[i].Point != want[i].Point || !bytes.Equal(got[i].Raw.Header, want[i].Raw.Header) || !bytes.Equal(got[i].Raw.Body, want[i].Raw.Body) {
			t.Fatalf("entry %d isn't the one that was stored", want[i].Seq)
		}
	}
}

func conformRanges(t *testing.T, h *held) {
	log := h.log(t)
	all := h.append(t, log.Write(5, 50).Run()).Entries
	for range 10 {
		all = append(all, h.append(t, log.Write(120, 600).Run()).Entries...)
	}
	tip := all[len(all)-1].Point
	same(t, h.pull(t, log.Log, entry.Point{}, tip, exchange.MaxChunk), all)
	// After an entry in the middle that nobody signed, up to one that isn't
	// the tip.
	same(t, h.pull(t, log.Log, all[7].Point, all[5+120].Point, exchange.MaxChunk), all[8:5+121])
	raws, _, err := h.Range(log.Log, tip, tip, exchange.MaxChunk)
	if err != nil || len(raws) != 0 {
		t.Errorf("after the tip: %d entries, %v", len(raws), err)
	}
	if _, _, err := h.Range(log.Log, tip, all[0].Point, exchange.MaxChunk); !errors.Is(err, exchange.ErrNotHeld) {
		t.Errorf("a range that runs backwards: %v, want ErrNotHeld", err)
	}
}

func conformRangeSizes(t *testing.T, h *held) {
	log := h.log(t)
	all := h.append(t, log.Write(2, 50).Run()).Entries
	all = append(all, h.append(t, log.Write(3, 20<<10).Run()).Entries...)
	tip := all[len(all)-1].Point
	same(t, h.pull(t, log.Log, entry.Point{}, tip, 64<<10), all)
	// Only the first signed point is within reach of the smaller size, then
	// none is.
	raws, _, err := h.Range(log.Log, entry.Point{}, tip, 30<<10)
	if err != nil || len(raws) != 3 {
		t.Errorf("30 KiB from the start: %d entries, %v, want 3", len(raws), err)
	}
	raws, _, err = h.Range(log.Log, all[2].Point, tip, 30<<10)
	if err != nil || len(raws) != 0 {
		t.Errorf("30 KiB without a signed point: %d entries, %v, want none", len(raws), err)
	}
}

func conformForks(t *testing.T, h *held) {
	log := h.log(t)
	trunk := h.append(t, log.Write(8, 50).Run()).Entries
	clone := log.Clone()
	left := h.append(t, log.Write(4, 50).Run()).Entries
	right := h.append(t, clone.Write(6, 50).Run()).Entries
	fork := trunk[len(trunk)-1].Point
	leftTip, rightTip := left[len(left)-1].Point, right[len(right)-1].Point
	tips := 0
	for _, tip := range h.Tips() {
		if tip.Log == log.Log && (tip.Point == leftTip || tip.Point == rightTip) {
			tips++
		}
	}
	if tips != 2 {
		t.Errorf("%d of two branches have a tip", tips)
	}
	same(t, h.pull(t, log.Log, fork, leftTip, exchange.MaxChunk), left)
	same(t, h.pull(t, log.Log, fork, rightTip, exchange.MaxChunk), right)
	same(t, h.pull(t, log.Log, entry.Point{}, rightTip, exchange.MaxChunk), append(trunk[:len(trunk):len(trunk)], right...))
	if _, _, err := h.Range(log.Log, left[0].Point, rightTip, exchange.MaxChunk); !errors.Is(err, exchange.ErrNotHeld) {
		t.Errorf("from one branch to the other: %v, want ErrNotHeld", err)
	}
	for _, p := range h.Samples(log.Log, leftTip) {
		if p.Seq > fork.Seq && p != left[p.Seq-fork.Seq-1].Point {
			t.Errorf("sample at %d is of another branch", p.Seq)
		}
	}
}

func conformForkOfFork(t *testing.T, h *held) {
	log := h.log(t)
	trunk := h.append(t, log.Write(4, 50).Run()).Entries
	second := log.Clone()
	h.append(t, log.Write(3, 50).Run())
	middle := h.append(t, second.Write(4, 50).Run()).Entries
	third := second.Clone()
	h.append(t, second.Write(1, 50).Run())
	top := h.append(t, third.Write(5, 50).Run()).Entries
	want := append(append(trunk[:len(trunk):len(trunk)], middle...), top...)
	same(t, h.pull(t, log.Log, entry.Point{}, top[len(top)-1].Point, exchange.MaxChunk), want)
	if n := len(h.Tips()); n != 4 {
		t.Errorf("%d tips, want those of three branches and the control log", n)
	}
}

func conformTwice(t *testing.T, h *held) {
	log := h.log(t)
	first := h.append(t, log.Write(3, 50).Run())
	second := h.append(t, log.Write(3, 50).Run())
	if tips, err := h.Append(first); err != nil || len(tips) != 0 {
		t.Errorf("the same run again: %v, %v", tips, err)
	}
	third := log.Write(2, 50).Run()
	joined := second
	joined.Entries = append(second.Entries[:len(second.Entries):len(second.Entries)], third.Entries...)
	joined.Points = append(second.Points[:len(second.Points):len(second.Points)], third.Points...)
	h.append(t, joined)
	want := append(first.Entries[:len(first.Entries):len(first.Entries)], joined.Entries...)
	same(t, h.pull(t, log.Log, entry.Point{}, third.Tip(), exchange.MaxChunk), want)
}

func conformUnattached(t *testing.T, h *held) {
	log := h.log(t)
	h.append(t, log.Write(3, 50).Run())
	gap := log.Write(1, 50).Run()
	if _, err := h.Append(log.Write(1, 50).Run()); err == nil {
		t.Error("a run was stored over a gap")
	}
	h.append(t, gap)
}
