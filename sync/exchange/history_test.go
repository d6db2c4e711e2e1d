package exchange_test

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"plumbline/sync/entry"
	"plumbline/sync/exchange"
	"plumbline/sync/exchange/exchangetest"
)

// history is a random history of a few laptops: they write, are cloned, are
// linked and cut; messages arrive one by one, twice, or in another order.
type history struct {
	*world
	rt   *rapid.T
	logs []homedLog
}

type homedLog struct {
	*exchangetest.Log
	home int
}

func (h *history) pick(n int, what string) int { return rapid.IntRange(0, n-1).Draw(h.rt, what) }

func (h *history) open() {
	laptop := h.staff.Laptop(entry.RoleDirector)
	log := homedLog{laptop.Open(rapid.Bool().Draw(h.rt, "control")), h.pick(len(h.net.Nodes), "home")}
	h.logs = append(h.logs, log)
	h.write(log.home, log.Run())
}

func (h *history) append() {
	log := h.logs[h.pick(len(h.logs), "log")]
	n := rapid.SampledFrom([]int{1, 1, 2, 5, 300, 1200}).Draw(h.rt, "entries")
	h.write(log.home, log.Write(n, rapid.SampledFrom([]int{10, 300}).Draw(h.rt, "size")).Run())
}

// clone lets a laptop that holds a whole log go on with it, as after a disk
// was copied.
func (h *history) clone() {
	log := h.logs[h.pick(len(h.logs), "log")]
	home := h.pick(len(h.net.Nodes), "clone's home")
	if h.net.Nodes[home].Store.Holds(log.Log.Log, log.Tip) {
		h.logs = append(h.logs, homedLog{log.Clone(), home})
	}
}

func (h *history) connect() {
	a, b := h.pick(len(h.net.Nodes), "a"), h.pick(len(h.net.Nodes), "b")
	if a != b && !h.linked(a, b) {
		h.net.Connect(h.net.Nodes[a], h.net.Nodes[b], exchange.Config{
			Wants:  rapid.IntRange(1, 4).Draw(h.rt, "wants"),
			Window: rapid.IntRange(1, 6).Draw(h.rt, "window"),
		})
	}
}

func (h *history) linked(a, b int) bool {
	na, nb := h.net.Nodes[a], h.net.Nodes[b]
	return slices.ContainsFunc(h.net.Links, func(l *exchangetest.Link) bool {
		return l.Joins(na, nb)
	})
}

func (h *history) cut() {
	if n := len(h.net.Links); n > 0 {
		h.net.Cut(h.net.Links[h.pick(n, "link")])
	}
}

func (h *history) step() {
	for range rapid.IntRange(1, 20).Draw(h.rt, "steps") {
		steps := h.net.Steps()
		if len(steps) == 0 {
			return
		}
		steps[h.pick(len(steps), "step")]()
	}
}

// disturb repeats a message that is on its way, or swaps two.
func (h *history) disturb() {
	if len(h.net.Links) == 0 {
		return
	}
	side := h.net.Links[h.pick(len(h.net.Links), "link")].Sides()[h.pick(2, "side")]
	n := len(side.Inbox)
	if n == 0 {
		return
	}
	i, j := h.pick(n, "message"), h.pick(n, "place")
	if rapid.Bool().Draw(h.rt, "repeat") {
		side.Inbox = slices.Insert(side.Inbox, j, side.Inbox[i])
		return
	}
	side.Inbox[i], side.Inbox[j] = side.Inbox[j], side.Inbox[i]
}

// join links what is cut, so that word can get around.
func (h *history) join() {
	if rapid.Bool().Draw(h.rt, "new sessions") {
		for len(h.net.Links) > 0 {
			h.net.Cut(h.net.Links[0])
		}
	}
	for i := range h.net.Nodes[1:] {
		if !h.linked(i, i+1) {
			h.link(i, i+1)
		}
	}
}

func TestRandomHistoriesConverge(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		h := &history{rt: rt, world: newWorld(rt, rapid.IntRange(2, 4).Draw(rt, "laptops"))}
		h.write(0, h.staff.Control.Run())
		h.open()
		actions := []func(){h.open, h.append, h.append, h.append, h.clone, h.connect, h.connect, h.cut, h.step, h.step, h.step, h.disturb}
		for range rapid.IntRange(5, 60).Draw(rt, "length") {
			actions[h.pick(len(actions), "action")]()
		}
		h.join()
		if err := h.net.Settle(20_000, func(n int) int { return h.pick(n, "step") }); err != nil {
			rt.Fatal(err)
		}
		h.converged()
	})
}
