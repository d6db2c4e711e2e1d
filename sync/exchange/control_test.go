package exchange_test

import (
	"maps"
	"math/rand/v2"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/exchange"
)

// While a control log that the other side announced is under way, a laptop
// neither asks for other logs nor names them, whatever the order of events.
func TestControlLogsComeFirst(t *testing.T) {
	w := newWorld(t, 2)
	director := w.staff.Laptop(entry.RoleDirector)
	w.write(0, director.Open(true).Write(4000, 300).Run()) // any entries will do
	w.write(1, director.Open(true).Write(3000, 300).Run())
	w.write(0, director.Open(false).Write(10, 300).Run())
	w.write(1, director.Open(false).Write(10, 300).Run())
	link := w.link(0, 1)
	control := map[entry.LogID]entry.Point{}
	for _, node := range w.net.Nodes {
		for _, tip := range node.Store.Tips() {
			if tip.Control {
				control[tip.Log] = tip.Point
			}
		}
	}
	// holdsAll says whether a laptop holds every control log there is.
	holdsAll := func(node int) bool {
		for log, tip := range control {
			if !w.net.Nodes[node].Store.Holds(log, tip) {
				return false
			}
		}
		return true
	}
	early := 0
	for len(w.net.Steps()) > 0 {
		for i, s := range link.Sides() {
			sender := 1 - i
			for _, m := range s.Inbox {
				if names := named(t, m, control); names && !holdsAll(sender) {
					t.Fatalf("laptop %d speaks of an ordinary log before it holds all control logs: %+v", sender, decoded(t, m))
				}
				early++
			}
		}
		w.net.Steps()[0]()
	}
	if early < 20 {
		t.Fatalf("only %d messages were looked at", early)
	}
	w.converged()
}

// named reports whether a message speaks of a log that isn't a control log.
func named(t *testing.T, message []byte, control map[entry.LogID]entry.Point) bool {
	var logs []entry.LogID
	switch m := decoded(t, message).(type) {
	case exchange.Have:
		for _, tip := range m.Tips() {
			logs = append(logs, tip.Log)
		}
	case exchange.Want:
		logs = append(logs, m.Log())
	case exchange.Chunk:
		logs = append(logs, m.Log())
	}
	for _, log := range logs {
		if _, is := control[log]; !is {
			return true
		}
	}
	return false
}

// A peer that asks for other logs before its control logs were judged gets an
// empty answer.
func TestOrdinaryLogsAreNotGivenEarly(t *testing.T) {
	l := newLone(t, exchange.Config{})
	run := l.staff.Laptop(entry.RoleScout).Open(false).Write(3, 100).Run()
	control := l.staff.Control.Run()
	for _, r := range []entry.Run{run, control} {
		tips, err := l.memory.Append(r)
		if err != nil {
			t.Fatal(err)
		}
		l.Changed(tips)
	}
	ask := func(r entry.Run) (after, upto entry.Point) {
		answers := sent[exchange.Chunk](t, l.Receive(exchange.WantMessage(1, r.Log, r.Tip())))
		if len(answers) != 1 {
			t.Fatalf("%d answers", len(answers))
		}
		return answers[0].Ends()
	}
	if after, upto := ask(run); after != upto {
		t.Error("an ordinary log was given before the peer listed its control logs")
	}
	if after, upto := ask(control); after == upto || upto != control.Tip() {
		t.Error("a control log wasn't given")
	}
	l.Receive(exchange.HaveMessage(true, false))
	if after, upto := ask(run); after == upto || upto != run.Tip() {
		t.Error("an ordinary log wasn't given after the peer listed its control logs")
	}
}

// A new control entry goes before what is still to be pulled.
func TestControlEntriesOvertake(t *testing.T) {
	w := newWorld(t, 2)
	log := w.staff.Laptop(entry.RoleScout).Open(false)
	w.write(0, log.Write(20_000, 300).Run())
	w.link(0, 1)
	for len(w.net.Nodes[1].Store.Tips()) == 0 {
		w.net.Steps()[0]()
	}
	control := w.staff.Control.Run()
	w.write(0, control)
	for !w.net.Nodes[1].Store.Holds(control.Log, control.Tip()) {
		w.net.Steps()[0]()
	}
	if w.net.Nodes[1].Store.Holds(log.Log, log.Tip) {
		t.Error("the control entry came after the log that was under way")
	}
	w.settle()
	w.converged()
}

// In a staff where everybody is linked to everybody, a control entry goes out from
// its author, and is only announced by the others: each gets it once, or twice if
// an announcement was faster and was asked about.
func TestAControlEntryIsNotPassedOnByEverybody(t *testing.T) {
	const laptops = 30
	orders := map[string]func(int) int{
		"what was sent first arrives first": nil,
		"whatever the order":                rand.New(rand.NewPCG(1, 2)).IntN,
	}
	for name, order := range orders {
		t.Run(name, func(t *testing.T) {
			w := newWorld(t, laptops)
			for i := range laptops {
				for j := range i {
					w.link(i, j)
				}
			}
			w.settle()
			copies, before := 0, w.net.Bytes
			w.net.Overheard = func(message []byte) {
				if c, is := decoded(t, message).(exchange.Chunk); is && c.Carries() {
					copies++
				}
			}
			w.write(0, w.staff.Control.Run())
			if err := w.net.Settle(20_000, order); err != nil {
				t.Fatal(err)
			}
			w.converged()
			t.Logf("%d copies, %d bytes", copies, w.net.Bytes-before)
			if order == nil && copies != laptops-1 || copies > 2*(laptops-1) {
				t.Errorf("%d copies went to %d laptops", copies, laptops-1)
			}
		})
	}
}

// Whoever a control entry cuts is given it, with all that it hasn't said to hold of
// the control logs, whatever it was told of or pushed; and nothing twice.
func TestWhoIsHeardNoMoreIsGivenTheControlLogs(t *testing.T) {
	l := newLone(t, exchange.Config{})
	known, unknown := l.staff.Control, l.staff.Laptop(entry.RoleDirector).Open(true)
	store := func(runs ...entry.Run) (tips []exchange.Tip) {
		for _, run := range runs {
			more, err := l.memory.Append(run)
			if err != nil {
				t.Fatal(err)
			}
			tips = append(tips, more...)
		}
		return tips
	}
	first, told := known.Run(), unknown.Write(2, 50).Run()
	l.Changed(store(first, told, l.staff.Laptop(entry.RoleScout).Open(false).Write(2, 50).Run()))
	l.Receive(exchange.HaveMessage(true, true, exchange.Tip{Log: first.Log, Point: first.Tip(), Control: true}))
	// The peer will be handed this behind what it was told of and hasn't asked for.
	pushed := unknown.Write(1, 50).Run()
	if hints := sent[exchange.Chunk](t, l.Changed(store(pushed))); len(hints) != 1 {
		t.Fatalf("%d pushes of a new control entry", len(hints))
	}
	last := known.Write(1, 50).Run()
	tips := store(last)
	// It has come further on another branch.
	l.Receive(exchange.HaveMessage(false, false, exchange.Tip{Log: known.Log, Point: entry.Point{Seq: last.Tip().Seq + 3, Hash: entry.Hash{7}}, Control: true}))
	given := map[entry.LogID][2]entry.Point{}
	for _, c := range sent[exchange.Chunk](t, l.Part()) {
		after, upto := c.Ends()
		given[c.Log()] = [2]entry.Point{after, upto}
	}
	want := map[entry.LogID][2]entry.Point{known.Log: {first.Tip(), last.Tip()}, unknown.Log: {{}, pushed.Tip()}}
	if !maps.Equal(given, want) {
		t.Errorf("given are %v, want %v", given, want)
	}
	if again := append(l.Part(), l.Changed(tips)...); len(again) > 0 {
		t.Errorf("said again: %v", again)
	}
}
