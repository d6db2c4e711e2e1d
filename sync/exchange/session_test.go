package exchange_test

import (
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/exchange"
	"plumbline/sync/exchange/exchangetest"
)

// world is a staff, a network of laptops with empty memories, and everything
// that was ever written there: the trivial model that holdings are held
// against.
type world struct {
	t       tester
	staff   *exchangetest.Staff
	net     *exchangetest.Network
	written []writtenEntry
}

type writtenEntry struct {
	log   entry.LogID
	point entry.Point
}

// tester is what a world needs of a test, plain or with random histories.
type tester interface {
	Helper()
	Fatal(args ...any)
	Fatalf(format string, args ...any)
	Errorf(format string, args ...any)
}

func newWorld(t tester, laptops int) *world {
	w := &world{t: t, staff: exchangetest.NewStaff(7), net: &exchangetest.Network{}}
	for range laptops {
		w.net.Add(exchange.NewMemory(w.staff.ID))
	}
	return w
}

// write stores a run on a laptop, as its own writing.
func (w *world) write(node int, run entry.Run) {
	w.t.Helper()
	if err := w.net.Write(w.net.Nodes[node], run); err != nil {
		w.t.Fatal(err)
	}
	for _, e := range run.Entries {
		w.written = append(w.written, writtenEntry{run.Log, e.Point})
	}
}

func (w *world) link(a, b int) *exchangetest.Link {
	return w.net.Connect(w.net.Nodes[a], w.net.Nodes[b], exchange.Config{})
}

func (w *world) settle() {
	w.t.Helper()
	if err := w.net.Settle(20_000, nil); err != nil {
		w.t.Fatal(err)
	}
}

// converged checks that every laptop holds every entry ever written, and that
// every session knows it.
func (w *world) converged() {
	w.t.Helper()
	for i, node := range w.net.Nodes {
		for _, e := range w.written {
			if !node.Store.Holds(e.log, e.point) {
				w.t.Fatalf("laptop %d lacks entry %d of log %s", i, e.point.Seq, e.log)
			}
		}
	}
	for i, link := range w.net.Links {
		for _, side := range link.Sides() {
			if s := side.Session; !s.Synced() || s.Behind() != 0 || s.Ahead() != 0 || s.Waiting() {
				w.t.Errorf("link %d: synced %v, behind %d, ahead %d, waiting %v", i, s.Synced(), s.Behind(), s.Ahead(), s.Waiting())
			}
		}
	}
	w.clean()
}

func (w *world) clean() {
	w.t.Helper()
	if len(w.net.Failed) > 0 || w.net.Refused > 0 {
		w.t.Errorf("%d tips refused, links failed: %v", w.net.Refused, w.net.Failed)
	}
	if w.net.Largest > exchange.MaxMessage {
		w.t.Errorf("a message of %d bytes, at most %d", w.net.Largest, exchange.MaxMessage)
	}
}

func TestTwoLaptopsExchangeWhatTheyHold(t *testing.T) {
	w := newWorld(t, 2)
	a, b := w.staff.Laptop(entry.RoleScout).Open(false), w.staff.Laptop(entry.RoleScout).Open(false)
	w.write(0, w.staff.Control.Run())
	w.write(0, a.Write(3000, 200).Run())
	w.write(1, b.Write(10, 200).Run())
	link := w.link(0, 1)
	if n := link.A.Session.Behind(); n != 0 {
		t.Errorf("behind %d before the other said anything", n)
	}
	w.settle()
	w.converged()
}

func TestNothingHeldIsSyncedAtOnce(t *testing.T) {
	w := newWorld(t, 2)
	w.link(0, 1)
	w.settle()
	w.converged()
	if w.net.Sent != 4 {
		t.Errorf("%d messages between two empty laptops, want the two lists of each", w.net.Sent)
	}
}

func TestProgressIsCounted(t *testing.T) {
	w := newWorld(t, 2)
	log := w.staff.Laptop(entry.RoleScout).Open(false)
	w.write(0, log.Write(2999, 400).Run())
	link := w.link(0, 1)
	a, b := link.A.Session, link.B.Session
	seen := map[uint64]bool{}
	for b.Behind() == 0 {
		w.net.Steps()[0]()
	}
	last := uint64(3000)
	for len(w.net.Steps()) > 0 {
		w.net.Steps()[0]()
		if b.Behind() > last {
			t.Fatalf("behind rose from %d to %d", last, b.Behind())
		}
		last = b.Behind()
		seen[last] = true
		if a.Ahead() < last && b.Behind() != 0 {
			t.Fatalf("ahead %d, though the other is behind %d", a.Ahead(), last)
		}
	}
	if len(seen) < 5 || last != 0 {
		t.Errorf("progress over 1.6 MB showed the values %v", seen)
	}
	w.converged()
}

func TestWritesArePushed(t *testing.T) {
	w := newWorld(t, 2)
	log := w.staff.Laptop(entry.RoleScout).Open(false)
	w.write(0, log.Write(5, 200).Run())
	w.link(0, 1)
	w.settle()
	before := w.net.Sent
	w.write(0, log.Write(1, 200).Run())
	w.settle()
	w.converged()
	if n := w.net.Sent - before; n != 2 {
		t.Errorf("%d messages for one entry, want the push and its receipt", n)
	}
}

func TestFirstLogOfALinkedLaptopIsPushed(t *testing.T) {
	w := newWorld(t, 2)
	w.link(0, 1)
	w.settle()
	before := w.net.Sent
	w.write(1, w.staff.Laptop(entry.RoleScout).Open(false).Write(2, 100).Run())
	w.settle()
	w.converged()
	if n := w.net.Sent - before; n != 2 {
		t.Errorf("%d messages for a small new log, want the push and its receipt", n)
	}
}

func TestLostPushIsPulled(t *testing.T) {
	w := newWorld(t, 2)
	log := w.staff.Laptop(entry.RoleScout).Open(false)
	w.write(0, log.Write(5, 200).Run())
	link := w.link(0, 1)
	w.settle()
	w.write(0, log.Write(1, 200).Run())
	link.B.Inbox = nil // the push is lost
	w.write(0, log.Write(1, 200).Run())
	w.settle()
	w.converged()
}

func TestEntriesTravelOnward(t *testing.T) {
	w := newWorld(t, 3)
	log := w.staff.Laptop(entry.RoleScout).Open(false)
	w.write(0, w.staff.Control.Run())
	w.write(0, log.Write(2000, 300).Run())
	w.link(0, 1)
	w.link(1, 2)
	w.settle()
	w.converged()
	w.write(0, log.Write(1, 200).Run())
	w.settle()
	w.converged()
	w.write(2, w.staff.Laptop(entry.RoleScout).Open(false).Write(700, 200).Run())
	w.settle()
	w.converged()
}

// A laptop that two peers offer a log asks one of them.
func TestALogIsAskedOfOnePeer(t *testing.T) {
	w := newWorld(t, 3)
	log := w.staff.Laptop(entry.RoleScout).Open(false)
	run := log.Write(4000, 300).Run()
	w.write(0, run)
	w.write(1, run)
	w.link(0, 2)
	w.link(1, 2)
	w.settle()
	w.converged()
	alone := newWorld(t, 2)
	alone.write(0, run)
	alone.link(0, 1)
	alone.settle()
	if w.net.Bytes > alone.net.Bytes*11/10 {
		t.Errorf("%d bytes from two peers, %d from one", w.net.Bytes, alone.net.Bytes)
	}
}

// With one chunk asked for at a time, one log is there before the next is
// begun.
func TestLogByLog(t *testing.T) {
	w := newWorld(t, 2)
	laptop := w.staff.Laptop(entry.RoleScout)
	first, second := laptop.Open(false), laptop.Open(false)
	w.write(0, first.Write(3000, 300).Run())
	w.write(0, second.Write(3000, 300).Run())
	w.net.Connect(w.net.Nodes[0], w.net.Nodes[1], exchange.Config{Wants: 1})
	b := w.net.Nodes[1].Store
	for len(b.Tips()) < 2 {
		w.net.Steps()[0]()
	}
	if !b.Holds(first.Log, first.Tip) {
		t.Error("the second log was begun before the first was there")
	}
	w.settle()
	w.converged()
}

// However long one branch of a fork grows while its points are told, the tip
// of the other isn't forgotten.
func TestLongBranchBesideAShortOne(t *testing.T) {
	w := newWorld(t, 2)
	log := w.staff.Laptop(entry.RoleScout).Open(false)
	w.write(0, log.Write(3, 50).Run())
	w.link(0, 1)
	w.settle()
	clone := log.Clone()
	w.write(1, clone.Write(1, 50).Run())
	for range 100 {
		w.write(0, log.Write(1, 50).Run())
		w.settle()
		w.converged()
	}
}

// In a staff where all are linked to all, an entry travels once to each, and
// what else is said about it takes little.
func TestStaffOnOneNetwork(t *testing.T) {
	const laptops = 8
	w := newWorld(t, laptops)
	var logs []*exchangetest.Log
	for i := range laptops {
		logs = append(logs, w.staff.Laptop(entry.RoleScout).Open(false))
		w.write(i, logs[i].Write(300, 300).Run())
	}
	for a := range laptops {
		for b := range a {
			w.link(a, b)
		}
	}
	w.settle()
	w.converged()
	// Half of each entry's value can be compressed: a copy of everything
	// takes less than its size.
	if most := laptops * (laptops - 1) * 300 * 400; w.net.Bytes > most {
		t.Errorf("%d bytes to bring %d laptops together, want at most %d", w.net.Bytes, laptops, most)
	}
	before := w.net.Bytes
	w.write(0, logs[0].Write(1, 5000).Run())
	w.settle()
	w.converged()
	if n := w.net.Bytes - before; n > laptops*5000 {
		t.Errorf("%d bytes for one entry of 5,000 to %d laptops", n, laptops-1)
	}
}

func TestForkIsPulledFromTheFork(t *testing.T) {
	w := newWorld(t, 2)
	log := w.staff.Laptop(entry.RoleScout).Open(false)
	trunk := log.Write(3000, 300).Run()
	w.write(0, trunk)
	w.write(1, trunk)
	clone := log.Clone()
	w.write(0, log.Write(40, 300).Run())
	w.write(1, clone.Write(70, 300).Run())
	link := w.link(0, 1)
	sent := 0
	for len(w.net.Steps()) > 0 {
		for _, s := range link.Sides() {
			for _, m := range s.Inbox {
				sent = max(sent, len(m))
			}
		}
		w.net.Steps()[0]()
	}
	w.converged()
	if sent > 64<<10 {
		t.Errorf("%d bytes in one message for a fork of 40 and 70 entries", sent)
	}
	if n := len(w.net.Nodes[0].Store.Tips()); n != 2 {
		t.Errorf("%d tips, want both branches", n)
	}
	// Both branches grow on.
	w.write(0, log.Write(2, 300).Run())
	w.write(1, clone.Write(3, 300).Run())
	w.settle()
	w.converged()
}

func TestThousandOldLogs(t *testing.T) {
	w := newWorld(t, 2)
	laptop := w.staff.Laptop(entry.RoleScout)
	for range 1000 {
		w.write(0, laptop.Open(false).Write(1, 50).Run())
	}
	w.link(0, 1)
	w.settle()
	w.converged()
}
