package exchange_test

import (
	"errors"
	"testing"

	"plumbline/sync/entry"
)

// A member can invent logs without end. What is refused of them leaves nothing behind
// that outlives the link.
func TestWhatIsRefusedIsForgottenWithTheLink(t *testing.T) {
	w, c := newChoosyWorld(t)
	kept := w.staff.Laptop(entry.RoleScout).Open(false)
	w.write(0, kept.Write(1, 300).Run())
	for range 20 {
		log := w.staff.Laptop(entry.RoleScout).Open(false)
		c.failing[log.Log] = errors.New("no room")
		w.write(0, log.Write(1, 300).Run())
	}
	link := w.link(0, 1)
	w.settle()
	if !c.Holds(kept.Log, kept.Tip) || w.net.Refused != 20 {
		t.Fatalf("%d logs were refused, want 20; or the one that may come didn't", w.net.Refused)
	}
	w.net.Cut(link)
	if n := w.net.Nodes[1].Claims.Remembered(); n != 1 {
		t.Errorf("%d logs are remembered, one was stored", n)
	}
}
