package storage

import (
	"fmt"
	"sync"

	"plumbline/sync/entry"
)

// turnedAway remembers logs that were refused for their device has too many, so
// that they aren't asked for over each link anew.
type turnedAway struct {
	mu   sync.Mutex
	logs map[entry.LogID]struct{}
}

// maxTurnedAway bounds it; what is forgotten is asked for and refused again.
const maxTurnedAway = 1 << 17

func (t *turnedAway) add(log entry.LogID) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.logs == nil || len(t.logs) >= maxTurnedAway {
		t.logs = map[entry.LogID]struct{}{}
	}
	t.logs[log] = struct{}{}
}

func (t *turnedAway) has(log entry.LogID) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	_, has := t.logs[log]
	return has
}

// admit refuses another branch of a device that has too many already. This
// laptop's own are always taken, and so is one that a director's cut waits for.
func (d *draft) admit(l *logInfo) error {
	if d.branchesOf[l.device] < LogsLimit || l.device == d.device || d.cutNames(l.id) {
		return nil
	}
	if d.logs[l.id] == nil {
		d.turned.add(l.id)
	}
	return fmt.Errorf("log %s of device %s: %w: %d", l.id, l.device, ErrTooManyLogs, LogsLimit)
}

func (m *memory) cutNames(log entry.LogID) bool {
	for _, c := range m.verdict.Cuts {
		for _, head := range c.Body.Heads {
			if head.Log == log {
				return true
			}
		}
	}
	return false
}

// Crowded lists the devices of which no more logs are taken.
func (s *Store) Crowded() (devices []entry.DeviceID) {
	for device, n := range s.held.Load().branchesOf {
		if n >= LogsLimit {
			devices = append(devices, device)
		}
	}
	return devices
}
