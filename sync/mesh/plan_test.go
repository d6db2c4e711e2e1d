package mesh

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"testing"
	"time"

	"plumbline/sync/entry"
)

var (
	planStart = time.Date(2026, 11, 26, 9, 0, 0, 0, time.UTC)
	lowID     = entry.DeviceID{1}
	midID     = entry.DeviceID{2}
	highID    = entry.DeviceID{3}
	errDown   = errors.New("connection refused")
)

func nobody(entry.DeviceID) bool { return false }

func TestTheLowerDeviceDials(t *testing.T) {
	p := newPlan(midID)
	p.hear("192.0.2.1:1", lowID, [32]byte{}, planStart)
	p.hear("192.0.2.3:1", highID, [32]byte{}, planStart)
	if got, _ := p.due(planStart, nobody); !slices.Equal(got, []string{"192.0.2.3:1"}) {
		t.Errorf("at first: %v", got)
	}
	if got, _ := p.due(planStart, nobody); len(got) != 0 {
		t.Errorf("while it is being dialled: %v", got)
	}
	p.hear("192.0.2.1:1", lowID, [32]byte{}, planStart.Add(9*time.Second))
	if got, _ := p.due(planStart.Add(10*time.Second-1), nobody); len(got) != 0 {
		t.Errorf("before patience ends: %v", got)
	}
	if got, _ := p.due(planStart.Add(10*time.Second), nobody); !slices.Equal(got, []string{"192.0.2.1:1"}) {
		t.Errorf("when patience ends: %v", got)
	}
}

func TestALinkRestartsPatience(t *testing.T) {
	p := newPlan(highID)
	p.hear("192.0.2.1:1", lowID, [32]byte{}, planStart)
	p.due(planStart, nobody)
	later := planStart.Add(30 * time.Second)
	p.due(later, func(d entry.DeviceID) bool { return d == lowID })
	p.hear("192.0.2.1:1", lowID, [32]byte{}, later)
	if got, _ := p.due(later.Add(time.Second), nobody); len(got) != 0 {
		t.Errorf("right after the link was lost: %v", got)
	}
	if got, _ := p.due(later.Add(11*time.Second), nobody); len(got) != 1 {
		t.Errorf("10 s later: %v", got)
	}
}

func TestFailuresAreRetriedEverMoreSlowly(t *testing.T) {
	p := newPlan(lowID)
	p.remember([]string{"192.0.2.9"}, planStart)
	now := planStart
	for _, wait := range []time.Duration{1, 2, 4, 8, 16, 30, 30} {
		if got, _ := p.due(now, nobody); !slices.Equal(got, []string{"192.0.2.9:27047"}) {
			t.Fatalf("at %s: %v", now.Sub(planStart), got)
		}
		p.dialled("192.0.2.9:27047", entry.DeviceID{}, errDown, now)
		now = now.Add(wait * time.Second)
		if got, _ := p.due(now.Add(-1), nobody); len(got) != 0 {
			t.Fatalf("at %s it was tried too early", now.Sub(planStart))
		}
	}
	p.due(now, nobody)
	p.dialled("192.0.2.9:27047", entry.DeviceID{}, errDown, now)
	p.hear("192.0.2.9:27047", highID, [32]byte{}, now)
	if got, _ := p.due(now, nobody); len(got) != 1 {
		t.Error("a beacon from there doesn't bring the next try forward")
	}
}

// The listener learns where its peer listens, and dials there after a loss if
// it is the lower device. A link that keeps breaking is tried more slowly.
func TestALostLinkIsDialledAgain(t *testing.T) {
	for _, tt := range []struct {
		lasted time.Duration
		waits  []time.Duration
	}{
		{time.Hour, []time.Duration{1, 1, 1, 1}},
		{time.Second, []time.Duration{1, 2, 4, 8}},
	} {
		p := newPlan(lowID)
		now := planStart
		for _, wait := range tt.waits {
			p.ended("192.0.2.3:1", highID, tt.lasted, now)
			now = now.Add(wait * time.Second)
			if got, _ := p.due(now.Add(-1), nobody); len(got) != 0 {
				t.Fatalf("links of %s: tried less than %d s after the loss", tt.lasted, wait)
			}
			if got, _ := p.due(now, nobody); len(got) != 1 {
				t.Fatalf("links of %s: not tried %d s after the loss", tt.lasted, wait)
			}
			p.dialled("192.0.2.3:1", highID, nil, now)
		}
	}
}

func TestAddressesAreForgotten(t *testing.T) {
	p := newPlan(lowID)
	p.remember([]string{"192.0.2.9:5"}, planStart)
	p.hear("192.0.2.1:1", highID, [32]byte{}, planStart)
	late := planStart.Add(heardFor + 1)
	p.remember(nil, late)
	if got, _ := p.due(late, nobody); len(got) != 0 {
		t.Errorf("still tried: %v", got)
	}
}

func TestOneselfIsntDialled(t *testing.T) {
	p := newPlan(lowID)
	p.remember([]string{"192.0.2.9:5"}, planStart)
	p.due(planStart, nobody)
	p.dialled("192.0.2.9:5", lowID, ErrSelf, planStart)
	if got, _ := p.due(planStart.Add(time.Hour), nobody); len(got) != 0 {
		t.Errorf("dials itself at %v", got)
	}
}

// Of two links the one that the lower device dialled stays, whichever end
// looks and whichever came first.
func TestWhichOfTwoLinksStays(t *testing.T) {
	byLow, byHigh := &link{dialler: lowID}, &link{dialler: highID}
	for _, end := range []struct{ self, other entry.DeviceID }{{lowID, highID}, {highID, lowID}} {
		m := &Mesh{self: end.self}
		byLow.device, byHigh.device = end.other, end.other
		if !m.keeps(byLow, byHigh) {
			t.Errorf("at %x the link by the higher device beats the lower one's", end.self[:1])
		}
		if m.keeps(byHigh, byLow) {
			t.Errorf("at %x the link by the lower device doesn't beat the higher one's", end.self[:1])
		}
		if m.keeps(byLow, &link{dialler: lowID, device: end.other}) {
			t.Errorf("at %x an old link beats a newer one from the same side", end.self[:1])
		}
	}
	if lower(highID, lowID) != lowID || bytes.Compare(lowID[:], highID[:]) >= 0 {
		t.Error("lower isn't")
	}
}

func TestContentOnceEverybodyHeardOfIsLinked(t *testing.T) {
	low := func(d entry.DeviceID) bool { return d == lowID }
	both := func(d entry.DeviceID) bool { return d == lowID || d == highID }
	p := newPlan(midID)
	p.remember([]string{"192.0.2.9:27047"}, planStart) // who isn't here can't be told anything
	for _, tt := range []struct {
		name   string
		hear   entry.DeviceID
		linked func(entry.DeviceID) bool
		want   bool
	}{
		{"nobody was heard", entry.DeviceID{}, nobody, false},
		{"one was heard", lowID, nobody, false},
		{"and linked", entry.DeviceID{}, low, true},
		{"another one came", highID, low, false},
		{"and was linked", entry.DeviceID{}, both, true},
		{"and went", entry.DeviceID{}, low, false},
	} {
		if tt.hear != (entry.DeviceID{}) {
			p.hear(fmt.Sprintf("192.0.2.%d:1", tt.hear[0]), tt.hear, [32]byte{}, planStart)
		}
		if got := p.content(planStart, tt.linked); got != tt.want {
			t.Errorf("%s: %t, want %t", tt.name, got, tt.want)
		}
	}
	if p.content(planStart.Add(heardFor+1), both) {
		t.Error("content with beacons of long ago")
	}
}

func TestABeaconIsOldForAWhile(t *testing.T) {
	p := newPlan(lowID)
	p.hear("192.0.2.3:1", highID, [32]byte{1}, planStart)
	for _, tt := range []struct {
		name, address string
		device        entry.DeviceID
		key           [32]byte
		after         time.Duration
		want          bool
	}{
		{"the same", "192.0.2.3:1", highID, [32]byte{1}, time.Second, true},
		{"another port", "192.0.2.3:2", highID, [32]byte{1}, time.Second, false},
		{"another laptop", "192.0.2.3:1", midID, [32]byte{1}, time.Second, false},
		{"another key", "192.0.2.3:1", highID, [32]byte{2}, time.Second, false},
		{"before it would be forgotten", "192.0.2.3:1", highID, [32]byte{1}, heardFor - beaconContent, false},
	} {
		if got := p.isOld(tt.address, tt.device, tt.key, planStart.Add(tt.after)); got != tt.want {
			t.Errorf("%s: %t, want %t", tt.name, got, tt.want)
		}
	}
}
