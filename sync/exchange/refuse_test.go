package exchange_test

import (
	"errors"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/exchange"
	"plumbline/sync/exchange/exchangetest"
)

// choosy is a memory that turns down some logs, or fails to store them.
type choosy struct {
	*exchange.Memory
	unwanted map[entry.LogID]bool
	failing  map[entry.LogID]error
}

func (c *choosy) Wants(tip exchange.Tip) bool { return !c.unwanted[tip.Log] }

func (c *choosy) Append(run entry.Run) ([]exchange.Tip, error) {
	if err := c.failing[run.Log]; err != nil {
		return nil, err
	}
	return c.Memory.Append(run)
}

// newChoosyWorld is two laptops, the second of them choosy.
func newChoosyWorld(t *testing.T) (*world, *choosy) {
	w := newWorld(t, 1)
	c := &choosy{exchange.NewMemory(w.staff.ID), map[entry.LogID]bool{}, map[entry.LogID]error{}}
	w.net.Add(c)
	return w, c
}

func TestRefusedTipIsTakenWhenControlLogsAllowIt(t *testing.T) {
	w, c := newChoosyWorld(t)
	control := w.staff.Control
	w.write(0, control.Run())
	log := w.staff.Laptop(entry.RoleScout).Open(false)
	other := w.staff.Laptop(entry.RoleScout).Open(false)
	w.write(0, log.Write(500, 300).Run())
	w.write(0, other.Write(500, 300).Run())
	c.unwanted[log.Log] = true
	link := w.link(0, 1)
	w.settle()
	if c.Holds(log.Log, log.Tip) || !c.Holds(other.Log, other.Tip) {
		t.Fatal("the refused log came, or the other didn't")
	}
	if w.net.Refused != 1 || !link.A.Session.Synced() || !link.B.Session.Synced() {
		t.Errorf("%d tips refused, synced %v and %v: want 1, and both", w.net.Refused, link.A.Session.Synced(), link.B.Session.Synced())
	}
	// More of it is refused too, and pushes aren't taken either.
	w.write(0, log.Write(1, 300).Run())
	w.settle()
	if c.Holds(log.Log, log.Tip) || link.A.Session.Ahead() != 0 {
		t.Errorf("a push of a refused log was taken, or counts as due: %d", link.A.Session.Ahead())
	}
	c.unwanted[log.Log] = false
	w.write(0, control.Run())
	w.settle()
	w.net.Refused = 0
	w.converged()
}

func TestTipRefusedHalfWay(t *testing.T) {
	w, c := newChoosyWorld(t)
	log := w.staff.Laptop(entry.RoleScout).Open(false)
	w.write(0, log.Write(5000, 300).Run())
	link := w.net.Connect(w.net.Nodes[0], w.net.Nodes[1], exchange.Config{Window: 2})
	for len(c.Tips()) == 0 {
		w.net.Steps()[0]()
	}
	c.unwanted[log.Log] = true
	w.settle()
	if c.Holds(log.Log, log.Tip) {
		t.Error("a log was pulled to its end though there was no room for it")
	}
	if !link.B.Session.Synced() || link.B.Session.Behind() != 0 {
		t.Errorf("the refusing side is synced %v and behind %d", link.B.Session.Synced(), link.B.Session.Behind())
	}
	if w.net.Refused != 1 {
		t.Errorf("%d tips refused, want 1", w.net.Refused)
	}
}

// When there is no more room for one branch, the other is still pulled.
func TestBranchRefusedHalfWay(t *testing.T) {
	w := newWorld(t, 1)
	log := w.staff.Laptop(entry.RoleScout).Open(false)
	w.write(0, log.Write(10, 300).Run())
	clone := log.Clone()
	w.write(0, log.Write(10, 300).Run())
	w.write(0, clone.Write(3000, 300).Run())
	short, long := log.Tip, clone.Tip
	picky := &narrow{Memory: exchange.NewMemory(w.staff.ID), unwanted: long}
	w.net.Add(picky)
	w.net.Connect(w.net.Nodes[0], w.net.Nodes[1], exchange.Config{Window: 1})
	w.settle()
	if !picky.Holds(log.Log, short) || picky.Holds(log.Log, long) || w.net.Refused != 1 {
		t.Errorf("holds the short branch %v and the long one %v, %d tips refused", picky.Holds(log.Log, short), picky.Holds(log.Log, long), w.net.Refused)
	}
}

// narrow wants no more of a branch once it holds some of its log.
type narrow struct {
	*exchange.Memory
	unwanted entry.Point
}

func (n *narrow) Wants(tip exchange.Tip) bool { return tip.Point != n.unwanted || len(n.Tips()) == 0 }

func TestStoreThatFailsStopsItsLogOnly(t *testing.T) {
	w, c := newChoosyWorld(t)
	log := w.staff.Laptop(entry.RoleScout).Open(false)
	other := w.staff.Laptop(entry.RoleScout).Open(false)
	control := w.staff.Control
	w.write(0, log.Write(5000, 300).Run())
	w.write(0, other.Write(5000, 300).Run())
	c.failing[log.Log] = errors.New("no space left")
	link := w.link(0, 1)
	w.settle()
	if !c.Holds(other.Log, other.Tip) || w.net.Refused != 1 || len(w.net.Failed) != 0 {
		t.Errorf("other log held: %v, refused: %d, links failed: %v", c.Holds(other.Log, other.Tip), w.net.Refused, w.net.Failed)
	}
	if link.B.Session.Waiting() {
		t.Error("still waiting for a chunk")
	}
	delete(c.failing, log.Log)
	w.write(0, control.Run()) // control logs have news: looked at again
	w.settle()
	w.net.Refused = 0
	w.converged()
}

func TestFailedStoreOfAControlLogLetsOthersGoOn(t *testing.T) {
	w, c := newChoosyWorld(t)
	log := w.staff.Laptop(entry.RoleScout).Open(false)
	control := w.staff.Control.Run()
	w.write(0, control)
	w.write(0, log.Write(5, 300).Run())
	c.failing[control.Log] = errors.New("judged unfit")
	w.link(0, 1)
	w.settle()
	if !c.Holds(log.Log, log.Tip) {
		t.Error("a refused control log holds up the others for good")
	}
}

// A log that one peer can't deliver comes from another one, which was only
// waiting for its turn.
func TestRefusedLogComesFromAnotherPeer(t *testing.T) {
	w := newWorld(t, 3)
	log := w.staff.Laptop(entry.RoleScout).Open(false)
	run := log.Write(20, 300).Run()
	w.write(0, run)
	w.write(1, run)
	bad := w.link(0, 2)
	for !bad.B.Session.Waiting() {
		w.net.Steps()[0]()
	}
	w.link(1, 2)
	for n := len(w.net.Steps()); n > 1; n = len(w.net.Steps()) {
		w.net.Steps()[n-1]() // everything but the want of the bad peer
	}
	w.net.Steps()[0]()
	answer := bad.B.Inbox[len(bad.B.Inbox)-1]
	if _, is := decoded(t, answer).(exchange.Chunk); !is {
		t.Fatalf("the bad peer answers %+v", decoded(t, answer))
	}
	answer[len(answer)-1] ^= 0x55
	w.settle()
	if w.net.Refused != 1 {
		t.Errorf("%d tips refused, want the damaged one", w.net.Refused)
	}
	if !w.net.Nodes[2].Store.Holds(log.Log, log.Tip) || len(w.net.Failed) > 0 {
		t.Errorf("the log didn't come from the good peer; links failed: %v", w.net.Failed)
	}
}

func decoded(t tester, message []byte) any {
	t.Helper()
	m, err := exchange.Decode(message)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// A cloned log of which one branch can't be stored still brings the other.
func TestBrokenBranchDoesNotHideTheOther(t *testing.T) {
	w := newWorld(t, 1)
	log := w.staff.Laptop(entry.RoleScout).Open(false)
	w.write(0, log.Write(10, 300).Run())
	clone := log.Clone()
	w.write(0, log.Write(10, 300).Run())
	w.write(0, clone.Write(30, 300).Run())
	picky := &branchless{Memory: exchange.NewMemory(w.staff.ID), without: clone.Tip}
	w.net.Add(picky)
	w.link(0, 1)
	w.settle()
	if !picky.Holds(log.Log, log.Tip) || picky.Holds(log.Log, clone.Tip) {
		t.Errorf("holds the good branch %v and the refused one %v", picky.Holds(log.Log, log.Tip), picky.Holds(log.Log, clone.Tip))
	}
}

// branchless refuses the branch that ends at one point.
type branchless struct {
	*exchange.Memory
	without entry.Point
}

func (b *branchless) Append(run entry.Run) ([]exchange.Tip, error) {
	if run.Tip() == b.without {
		return nil, errors.New("not this branch")
	}
	return b.Memory.Append(run)
}

var _ exchangetest.Store = (*branchless)(nil)
