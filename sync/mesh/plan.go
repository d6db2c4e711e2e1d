package mesh

import (
	"bytes"
	"errors"
	"net/netip"
	"sync"
	"time"

	"plumbline/sync/entry"
)

const (
	// patience is how long the higher device of a pair leaves dialling to the
	// lower one. Some firewalls let connections through one way only.
	patience = 10 * time.Second
	// backoffFirst doubles with each failure, up to backoffMost.
	backoffFirst = time.Second
	backoffMost  = 30 * time.Second
	// heardFor is how long an address from a beacon is tried after the last.
	heardFor = time.Minute
)

// plan decides whom to dial and when. It knows addresses and what was found
// there; it does no dialling and reads no clock.
type plan struct {
	self entry.DeviceID

	mu     sync.Mutex
	places map[string]*place
}

// place is one address.
type place struct {
	device     entry.DeviceID // the zero value until something was found there
	key        [32]byte       // that its last beacon was sealed under
	remembered bool
	heard      time.Time // last beacon
	calling    bool
	failures   int
	next       time.Time // not before
	since      time.Time // without a link, as far as known
}

func newPlan(self entry.DeviceID) *plan {
	return &plan{self: self, places: make(map[string]*place)}
}

// remember sets the addresses to try besides those heard of.
func (p *plan) remember(addresses []string, now time.Time) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, at := range p.places {
		at.remembered = false
	}
	for _, address := range addresses {
		p.at(withPort(address)).remembered = true
	}
	for address, at := range p.places {
		if !at.remembered && !at.calling && now.Sub(at.heard) > heardFor {
			delete(p.places, address)
		}
	}
}

// hear notes that a device says it is at an address, under a link key. It
// reports whether that is news.
func (p *plan) hear(address string, device entry.DeviceID, key [32]byte, now time.Time) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	at := p.at(address)
	news := at.device != device || now.Sub(at.heard) > heardFor
	if at.device != device { // what was learned is about another laptop
		at.device, at.failures, at.next, at.since = device, 0, time.Time{}, now
	}
	at.heard, at.key = now, key
	// A laptop that speaks has come back: don't wait for the longest time.
	if soon := now.Add(2 * backoffFirst); at.next.After(soon) {
		at.next = soon
	}
	return news
}

// isOld reports whether a beacon says nothing that another one didn't a short
// while ago.
func (p *plan) isOld(address string, device entry.DeviceID, key [32]byte, now time.Time) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	at := p.places[address]
	return at != nil && at.device == device && at.key == key && now.Sub(at.heard) < heardFor/2
}

// content reports whether beacons were heard of late, each from a laptop that is
// linked.
func (p *plan) content(now time.Time, linked func(entry.DeviceID) bool) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	heard := false
	for _, at := range p.places {
		if at.heard.IsZero() || now.Sub(at.heard) > heardFor {
			continue
		}
		if !linked(at.device) {
			return false
		}
		heard = true
	}
	return heard
}

// knows reports whether an address of a laptop of the staff lies there, at
// whatever port: one remembered, heard of in a beacon, or linked with.
func (p *plan) knows(source netip.Addr) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	for address := range p.places {
		if at, err := netip.ParseAddrPort(address); err == nil && at.Addr().Unmap() == source {
			return true
		}
	}
	return false
}

func (p *plan) at(address string) *place {
	if p.places[address] == nil {
		p.places[address] = &place{}
	}
	return p.places[address]
}

// known returns whom an address led to, and the key of their last beacon.
func (p *plan) known(address string) (entry.DeviceID, [32]byte) {
	p.mu.Lock()
	defer p.mu.Unlock()
	at := p.places[address]
	if at == nil {
		return entry.DeviceID{}, [32]byte{}
	}
	return at.device, at.key
}

// due returns the addresses to dial now and counts them as being dialled. done is
// set when there is nobody left to link with.
func (p *plan) due(now time.Time, linked func(entry.DeviceID) bool) (due []string, done bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	done = true
	for address, at := range p.places {
		known := at.device != entry.DeviceID{}
		if at.device == p.self || known && linked(at.device) {
			at.since = time.Time{}
			continue
		}
		done = false
		if at.since.IsZero() {
			at.since = now
		}
		mine := !known || bytes.Compare(p.self[:], at.device[:]) < 0 || now.Sub(at.since) >= patience
		if mine && !at.calling && !now.Before(at.next) {
			at.calling = true
			due = append(due, address)
		}
	}
	return due, done
}

// dialled notes what came of it. device is whom the dial reached, if anybody.
func (p *plan) dialled(address string, device entry.DeviceID, err error, now time.Time) {
	p.mu.Lock()
	defer p.mu.Unlock()
	at := p.at(address)
	at.calling = false
	if device != (entry.DeviceID{}) {
		at.device = device
	}
	if err != nil && !errors.Is(err, ErrLinked) {
		at.failed(now)
	}
}

// ended notes that a link is over. Its address is known to have worked, so it
// is tried like one that was heard of; but a link that didn't last counts as a
// failure, or two laptops that can't get on would link every moment.
func (p *plan) ended(address string, device entry.DeviceID, lasted time.Duration, now time.Time) {
	p.mu.Lock()
	defer p.mu.Unlock()
	at := p.at(address)
	at.device, at.heard, at.since = device, now, now
	if lasted < patience {
		at.failed(now)
		return
	}
	at.failures, at.next = 0, now.Add(backoffFirst)
}

func (at *place) failed(now time.Time) {
	at.next = now.Add(min(backoffFirst<<min(at.failures, 10), backoffMost))
	at.failures++
}
