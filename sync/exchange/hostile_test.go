package exchange_test

import (
	"errors"
	"testing"

	"pgregory.net/rapid"

	"plumbline/sync/entry"
	"plumbline/sync/exchange"
	"plumbline/sync/exchange/exchangetest"
)

// hostile is a session whose peer says anything at any time: true things,
// stale ones, damaged ones. Whatever it says, the session keeps to its limits
// and hands over nothing that wasn't written.
type hostile struct {
	*exchange.Session
	rt      *rapid.T
	memory  *exchange.Memory
	runs    []entry.Run
	points  []exchange.Tip
	written map[entry.Point]bool
	last    uint64 // number of the last want
	waiting []entry.Run
	ended   bool
}

func newHostile(rt *rapid.T) *hostile {
	staff := exchangetest.NewStaff(5)
	h := &hostile{rt: rt, memory: exchange.NewMemory(staff.ID), written: map[entry.Point]bool{}}
	laptop := staff.Laptop(entry.RoleScout)
	a, b := laptop.Open(false), laptop.Open(false)
	for range 3 {
		h.runs = append(h.runs, a.Write(2, 20).Run(), b.Write(2, 20).Run())
	}
	clone := a.Clone()
	h.runs = append(h.runs, staff.Control.Run(), a.Write(2, 20).Run(), clone.Write(3, 20).Run(), a.Write(1, 20).Run(), clone.Write(1, 20).Run())
	for _, run := range h.runs {
		h.points = append(h.points, exchange.Tip{Log: run.Log, Point: run.Tip(), Control: run.Log == staff.Control.Log})
		for _, e := range run.Entries {
			h.written[e.Point] = true
		}
	}
	h.Session = exchange.New(exchange.Config{Holdings: h.memory, Wants: 2, Window: 3})
	h.do(h.Open())
	return h
}

func (h *hostile) run() entry.Run      { return rapid.SampledFrom(h.runs).Draw(h.rt, "run") }
func (h *hostile) tip() exchange.Tip   { return rapid.SampledFrom(h.points).Draw(h.rt, "tip") }
func (h *hostile) flag(of string) bool { return rapid.Bool().Draw(h.rt, of) }

func (h *hostile) message() []byte {
	switch rapid.IntRange(0, 5).Draw(h.rt, "kind") {
	case 0:
		tips := rapid.SliceOfN(rapid.SampledFrom(h.points), 0, 4).Draw(h.rt, "tips")
		for i := range tips {
			tips[i].Control = h.flag("control")
		}
		return exchange.HaveMessage(h.flag("control listed"), h.flag("all listed"), tips...)
	case 1:
		return exchange.WantMessage(rapid.Uint64().Draw(h.rt, "number"), h.tip().Log, h.tip().Point, h.tip().Point, h.tip().Point)
	case 2:
		run := h.run()
		packed := exchange.Pack(run.After, raws(run), run.Points)
		packed[rapid.IntRange(0, len(packed)-1).Draw(h.rt, "byte")] ^= byte(rapid.IntRange(0, 1).Draw(h.rt, "damage"))
		return exchange.ChunkMessage(rapid.Uint64Range(0, 8).Draw(h.rt, "number"), run.Log, run.After, run.Tip(), packed)
	case 3: // says of one run that it is another
		run, other := h.run(), h.run()
		return exchange.ChunkMessage(rapid.Uint64Range(0, 8).Draw(h.rt, "number"), other.Log, other.After, other.Tip(), exchange.Pack(run.After, raws(run), run.Points))
	case 4:
		at := h.tip()
		return exchange.ChunkMessage(rapid.Uint64Range(0, 8).Draw(h.rt, "number"), at.Log, at.Point, at.Point, nil)
	}
	return rapid.SliceOfN(rapid.Byte(), 0, 60).Draw(h.rt, "bytes")
}

// do carries out actions and checks them.
func (h *hostile) do(actions []exchange.Action) {
	for _, a := range actions {
		if h.ended {
			h.rt.Fatalf("%T after the session failed", a)
		}
		switch a := a.(type) {
		case exchange.Send:
			if len(a.Message) > exchange.MaxMessage {
				h.rt.Fatalf("a message of %d bytes", len(a.Message))
			}
			if want, is := decoded(h.rt, a.Message).(exchange.Want); is {
				h.last = want.Number()
			}
		case exchange.Store:
			for _, e := range a.Run.Entries {
				if !h.written[e.Point] {
					h.rt.Fatalf("entry %d of log %s was never written", e.Seq, a.Run.Log)
				}
			}
			h.waiting = append(h.waiting, a.Run)
		case exchange.Fail:
			h.ended = true
		}
	}
	if len(h.waiting) > 3 {
		h.rt.Fatalf("%d runs wait to be stored, at most 3", len(h.waiting))
	}
}

func (h *hostile) store() {
	if len(h.waiting) == 0 {
		return
	}
	run := h.waiting[0]
	h.waiting = h.waiting[1:]
	tips, err := h.memory.Append(run)
	if err == nil && rapid.IntRange(0, 9).Draw(h.rt, "fails") == 0 {
		err = errors.New("says that it failed")
	}
	if h.flag("changed first") {
		h.do(h.Changed(tips))
		h.do(h.Stored(run, err))
		return
	}
	h.do(h.Stored(run, err))
	h.do(h.Changed(tips))
}

func TestHostilePeer(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		h := newHostile(rt)
		for range rapid.IntRange(1, 40).Draw(rt, "length") {
			if rapid.IntRange(0, 2).Draw(rt, "what") > 0 {
				h.do(h.Receive(h.message()))
			} else {
				h.store()
			}
			h.Behind()
			h.Ahead()
		}
		for len(h.waiting) > 0 {
			h.store()
		}
		if h.ended {
			return
		}
		// Once every want has its answer, nothing is waited for.
		for round := 0; h.Waiting() || len(h.waiting) > 0; round++ {
			if round > 100 {
				rt.Fatalf("waits for answers without end")
			}
			h.store()
			for number := range h.last {
				for _, tip := range h.points {
					h.do(h.Receive(exchange.ChunkMessage(number+1, tip.Log, tip.Point, tip.Point, nil)))
				}
			}
		}
	})
}
