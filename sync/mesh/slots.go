package mesh

import (
	"net/netip"
	"sync"
)

// How many connections may be open before they have shown anything.
const (
	halfOpen        = 64
	halfOpenPerAddr = 8
)

// slots bounds half-open connections. When all are taken, the address with
// the most of them loses its oldest, so that one address can't shut out others.
type slots struct {
	mu   sync.Mutex
	held []*slot // oldest first
}

type slot struct {
	source netip.Prefix
	close  func()
}

// take returns nil if the source has its share already. close is called, with
// no lock held, if the slot is lost to somebody else.
func (s *slots) take(source netip.Addr, close func()) *slot {
	mine := &slot{source: neighbourhood(source), close: close}
	s.mu.Lock()
	if s.count(mine.source) >= halfOpenPerAddr {
		s.mu.Unlock()
		return nil
	}
	var lost *slot
	if len(s.held) >= halfOpen {
		lost = s.heaviest()
		s.remove(lost)
	}
	s.held = append(s.held, mine)
	s.mu.Unlock()
	if lost != nil {
		lost.close()
	}
	return mine
}

// free gives the slot back. A slot that was lost is free already.
func (s *slots) free(mine *slot) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.remove(mine)
}

func (s *slots) remove(mine *slot) {
	for i, other := range s.held {
		if other == mine {
			s.held = append(s.held[:i], s.held[i+1:]...)
			return
		}
	}
}

func (s *slots) count(source netip.Prefix) int {
	n := 0
	for _, other := range s.held {
		if other.source == source {
			n++
		}
	}
	return n
}

// heaviest returns the oldest slot of the address that holds most.
func (s *slots) heaviest() *slot {
	counts := make(map[netip.Prefix]int, len(s.held))
	most := 0
	for _, other := range s.held {
		counts[other.source]++
		most = max(most, counts[other.source])
	}
	for _, other := range s.held {
		if counts[other.source] == most {
			return other
		}
	}
	return nil
}

// neighbourhood is what counts as one address: one machine has a whole /64 of
// IPv6 addresses to itself.
func neighbourhood(addr netip.Addr) netip.Prefix {
	addr = addr.Unmap().WithZone("")
	bits := addr.BitLen()
	if addr.Is6() {
		bits = 64
	}
	p, err := addr.Prefix(bits)
	if err != nil { // the zero address: all of them together
		return netip.Prefix{}
	}
	return p
}
