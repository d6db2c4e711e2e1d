package storage

import (
	"context"
	"errors"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge/mergetest"
)

// Anybody who is linked can invent devices. However many there are, what is
// kept of them together has a bound; it shuts out nobody who is granted, and
// what was refused is taken once a grant has come.
func TestInventedDevicesShareOneSpace(t *testing.T) {
	w := newWorld(9)
	member := w.NewDevice()
	granted := w.Certificate(member, entry.RoleScout, 0, 1)
	w.Root.Grant(granted)
	late := w.NewDevice()
	lateCertificate := w.Certificate(late, entry.RoleScout, 0, 2)
	s := storeOf(t, w)
	s.append(t, all(w)...)

	invent := func() []entry.Run {
		before := len(w.Facts)
		stranger := w.NewDevice()
		l := w.Open(stranger, w.Certificate(stranger, entry.RoleScout, 0, 3), false)
		writeMuch(l)
		return since(w, before)
	}
	var devices int
	var err error
	for err == nil {
		if devices > StrangersLimit/(16*60<<10) {
			t.Fatal("more was stored than there is space for")
		}
		if _, err = s.Append(context.Background(), invent()...); err == nil {
			devices++
		}
	}
	if !errors.Is(err, ErrSetAsideFull) || devices < StrangersLimit/(17*60<<10) {
		t.Fatalf("after %d devices: %v", devices, err)
	}

	before := len(w.Facts)
	l := w.Open(member, granted, false)
	l.Write(prospect(2), entry.Change{Register: reg(2), Op: entry.OpValue, Value: []byte("a member's")})
	s.append(t, since(w, before)...)

	before = len(w.Facts)
	waits := w.Open(late, lateCertificate, false)
	writeMuch(waits)
	theirs := since(w, before)
	if _, err := s.Append(context.Background(), theirs...); !errors.Is(err, ErrSetAsideFull) {
		t.Errorf("before its grant: %v", err)
	}
	before = len(w.Facts)
	w.Root.Grant(lateCertificate)
	s.append(t, since(w, before)...)
	if o := s.append(t, theirs...); o.Added != 17 {
		t.Errorf("after its grant %d entries were taken, want 17", o.Added)
	}
}

// writeMuch writes sixteen entries that are nearly as large as they may be.
func writeMuch(l *mergetest.Line) {
	for range 16 {
		l.Write(prospect(1), entry.Change{Register: reg(2), Op: entry.OpValue, Value: make([]byte, 60<<10)})
	}
}

// A log takes space even if it says nothing: thousands of empty ones aren't free.
func TestInventedLogsCountWhateverTheyHold(t *testing.T) {
	w := newWorld(10)
	s := storeOf(t, w)
	stranger := w.NewDevice()
	cert := w.Certificate(stranger, entry.RoleScout, 0, 3)
	const logs = 64
	for range logs {
		w.Open(stranger, cert, false)
	}
	s.append(t, all(w)...)
	const left = SetAsideLimit - logs*asideLog
	if m := s.held.Load(); !m.hasRoom(stranger.ID(), left) || m.hasRoom(stranger.ID(), left+1) {
		t.Errorf("%d empty logs don't count as %d bytes each", logs, asideLog)
	}
}
