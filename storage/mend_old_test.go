package storage

import (
	"bytes"
	"os"
	"testing"
)

// TestAFrameThatWasNeverWritten loses power in a transaction that the disk wrote in
// another order: a frame of an earlier round of the log lies where one of it was to
// be. A page as it was then must not come back, and what was acknowledged is there.
func TestAFrameThatWasNeverWritten(t *testing.T) {
	w := soundWorld()
	s := storeOf(t, w)
	a := w.Scout(w.Root, 1)
	stored := 0
	save := func() {
		t.Helper()
		s.append(t, since(w, stored)...)
		stored = len(w.Facts)
	}
	save()
	check(t, s.writer.plain("PRAGMA wal_checkpoint(TRUNCATE)"))
	for range 60 { // an earlier round, all of one page
		check(t, s.SetMeta(t.Context(), "said", []byte("once")))
	}
	earlier, err := os.ReadFile(s.path + logEnd)
	check(t, err)
	check(t, s.writer.plain("PRAGMA wal_checkpoint(PASSIVE)"))
	check(t, s.SetMeta(t.Context(), "said", []byte("since")))
	a.Write(prospect(1), value(1, "elm"))
	save()
	held := entriesHeld(s)
	begun, err := os.ReadFile(s.path + logEnd)
	check(t, err)
	a.Write(prospect(2), value(1, "oak"))
	save()
	c := crashed{world: w, device: a.Device.ID()}
	c.file, err = os.ReadFile(s.path)
	check(t, err)
	c.log, err = os.ReadFile(s.path + logEnd)
	check(t, err)
	before, err := scanLog(bytes.NewReader(begun), testPage)
	check(t, err)
	after, err := scanLog(bytes.NewReader(c.log), testPage)
	check(t, err)
	if after.taken < before.taken+3 || len(earlier) < frameAt(after.taken+1) {
		t.Fatalf("%d frames, %d before, in %d bytes", after.taken, before.taken, len(earlier))
	}
	for n := before.taken + 1; n < after.taken; n++ {
		log := bytes.Clone(c.log)
		copy(log[frameAt(n):frameAt(n+1)], earlier[frameAt(n):])
		s := openAt(t, c.lay(t, log), c.options())
		if said, err := s.Meta(t.Context(), "said"); err != nil || string(said) != "since" {
			t.Errorf("frame %d of %d: %q, %v", n, after.taken, said, err)
		}
		if now := entriesHeld(s); now < held {
			t.Errorf("frame %d of %d: %d entries of %d", n, after.taken, now, held)
		}
		report, err := s.Verify(t.Context(), nil)
		if err != nil || len(report.Faults) > 0 {
			t.Errorf("frame %d of %d: %q, %v", n, after.taken, report.Faults, err)
		}
		check(t, s.Close())
	}
}
