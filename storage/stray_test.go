package storage

import (
	"errors"
	"strings"
	"testing"

	"plumbline/sync/entry"
)

// Where the row of a branch is gone, nobody can say whose its entries are: the file is
// damaged, for whoever opens or verifies it.
func TestEntriesOfABranchThatIsGone(t *testing.T) {
	w := newWorld(34)
	control, _ := w.Director(w.Root, 1)
	a := w.Scout(control, 2)
	a.Retire(prospect(1), a.Write(prospect(1), value(1, "elm")))
	w.Scout(control, 2).Write(prospect(2), value(1, "oak"), refer(2, prospect(1)))
	s := storeOf(t, w)
	s.append(t, all(w)...)
	s.damage(t, "DELETE FROM branch WHERE n = (SELECT max(n) FROM branch)")
	report, err := s.Verify(t.Context(), nil)
	check(t, err)
	if report.Lost == 0 || !strings.Contains(strings.Join(report.Faults, "\n"), "branches") {
		t.Errorf("verified: %v", report.Faults)
	}
	for _, readOnly := range []bool{true, false} {
		if _, err := Open(t.Context(), s.path, Options{Projector: projector{}, ReadOnly: readOnly}); !errors.Is(err, ErrCorrupt) {
			t.Errorf("opened, read only %v: %v", readOnly, err)
		}
	}
}

// What a retirement's author had read and isn't held is waited for once, however often
// the record is written to.
func TestAHeadIsAwaitedOnce(t *testing.T) {
	w := newWorld(35)
	control, _ := w.Director(w.Root, 1)
	line := w.Scout(control, 2)
	line.Write(prospect(1), value(1, "elm"))
	away := w.Scout(control, 2)
	line.Retire(prospect(1), away.Write(prospect(1), value(1, "oak")))
	var held []entry.Run
	for _, run := range all(w) {
		if run.Log != away.Writer.Log {
			held = append(held, run)
		}
	}
	s := storeOf(t, w)
	s.append(t, held...)
	for range 3 {
		before := len(w.Facts)
		line.Write(prospect(1), value(2, "ash"))
		s.append(t, since(w, before)...)
	}
	for head, who := range s.held.Load().awaited {
		if len(who) != 1 {
			t.Errorf("%d wait for %s, there is one record", len(who), head)
		}
	}
	if len(s.held.Load().awaited) != 1 {
		t.Errorf("%d heads are awaited, want 1", len(s.held.Load().awaited))
	}
	s.append(t, all(w)...)
	same(t, "the head has arrived", s.dump(t), dumpOf(w.Read(w.Facts...)))
}
