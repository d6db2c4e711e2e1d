package storage

import (
	"testing"
	"time"

	"plumbline/sync/entry"
)

// slow is a projector that waits.
type slow struct {
	projector
	begun, goOn chan struct{}
}

func (s slow) Words(id entry.RecordID, live []entry.Change) string {
	s.begun <- struct{}{}
	<-s.goOn
	return s.projector.Words(id, live)
}

// However many verify at once, whoever else reads doesn't wait for them: among those is
// the exchange, behind which people save.
func TestNobodyWaitsForThoseWhoVerify(t *testing.T) {
	w := newWorld(40)
	control, _ := w.Director(w.Root, 1)
	line := w.Scout(control, 2)
	first := line.Write(prospect(1), value(1, "elm"))
	line.Write(prospect(1), value(1, "oak"))
	s := storeOf(t, w)
	s.append(t, all(w)...)
	_, err := s.IndexWords(t.Context(), pageSize)
	check(t, err)
	p := slow{begun: make(chan struct{}), goOn: make(chan struct{})}
	s.projector = p
	ended, held := make(chan error), make(chan bool)
	many := cap(s.readers.slots) + 1
	for range many {
		go func() {
			_, err := s.Verify(t.Context(), nil)
			ended <- err
		}()
	}
	for range cap(s.readers.slots) {
		<-p.begun
	}
	go func() { held <- s.Holds(line.Writer.Log, first.Point) }()
	select {
	case is := <-held:
		if !is {
			t.Error("an entry isn't held")
		}
	case <-time.After(time.Minute):
		t.Fatal("a question waits for those who verify")
	}
	<-p.begun
	close(p.goOn)
	for range many {
		check(t, <-ended)
	}
}
