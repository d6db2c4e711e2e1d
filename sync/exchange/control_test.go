package exchange_test

import (
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
